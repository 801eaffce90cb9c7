//! The shop's closed lists of words: one enum each, with the one spelling that files, screens and the ledger share.

/// An enum whose members have one fixed word each.
pub trait Word: Copy + Eq + Sized + 'static {
    /// All members, in the order in which they are offered.
    const ALL: &'static [Self];
    /// The word.
    fn word(self) -> &'static str;
    /// The member with this word.
    fn from_word(text: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|w| w.word() == text)
    }
    /// The member that somebody typed: in any case, and blanks around it do not count.
    fn typed(text: &str) -> Option<Self> {
        let text = text.trim();
        let same = |w: &Self| w.word().eq_ignore_ascii_case(text);
        Self::ALL.iter().copied().find(same)
    }
    /// All words, for messages.
    fn choices() -> String {
        Self::ALL
            .iter()
            .map(|w| w.word())
            .collect::<Vec<_>>()
            .join(", ")
    }
}

macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($(#[$vdoc])* $variant),+ }

        impl Word for $name {
            const ALL: &'static [Self] = &[$(Self::$variant),+];
            fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
        }
    };
}
pub(crate) use words;

words!(
    /// What hangs on a hook.
    PieceKind {
        /// A body.
        Body = "body",
        /// A neck.
        Neck = "neck",
        /// A body and a neck that are finished as one.
        Joined = "joined",
        /// A loose part.
        Part = "part",
        /// A coupon that hangs with a rack and takes the same coats.
        Witness = "witness",
    }
);

words!(
    /// What a material is for.
    MaterialKind {
        /// A clear top coat.
        Lacquer = "lacquer",
        /// A sealer.
        Sealer = "sealer",
        /// A pore filler.
        Filler = "filler",
        /// A stain, dye or tinted coat.
        Stain = "stain",
        /// A thinner.
        Thinner = "thinner",
        /// A retarder.
        Retarder = "retarder",
        /// A solvent for cleaning.
        Cleaner = "cleaner",
        /// An oil or oil varnish.
        Oil = "oil",
        /// A hardener or catalyst.
        Hardener = "hardener",
    }
);

words!(
    /// How a material becomes a film.
    Drying {
        /// Loses solvent only: nitrocellulose and other lacquers.
        SolventRelease = "solvent release",
        /// Reacts with the oxygen of the air: drying oils and oil varnishes.
        Oxidising = "oxidising",
        /// Two components react.
        TwoComponent = "two-component",
        /// Reacts with the help of an acid.
        AcidCatalysed = "acid-catalysed",
        /// Loses water, then the particles flow together.
        Waterborne = "waterborne",
        /// Loses alcohol: shellac.
        Spirit = "spirit",
        /// Cured by light.
        Light = "light-cured",
        /// Leaves no film: thinners and cleaners.
        None = "none",
    }
);

impl Drying {
    /// Whether a new coat melts into the one below, as nitrocellulose and shellac do; all others lie on it and hold by
    /// their chemistry or by a scuff.
    pub const fn melts(self) -> bool {
        matches!(self, Self::SolventRelease | Self::Spirit)
    }
}

words!(
    /// The kinds of step that a recipe can have.
    StepKind {
        /// Taking in white wood.
        Receive = "receive",
        /// Masking and hanging.
        Mask = "mask",
        /// A wash coat.
        Wash = "wash",
        /// Pore filling.
        Fill = "fill",
        /// Stain, dye, shader.
        Colour = "colour",
        /// Sealer coats.
        Seal = "seal",
        /// Scuffing.
        Scuff = "scuff",
        /// Clear coats.
        Clear = "clear",
        /// Level sanding.
        LevelSand = "level-sand",
        /// A rest without a deed.
        Rest = "rest",
        /// Drops into pits and dents.
        DropFill = "drop-fill",
        /// The cure, without a deed.
        Cure = "cure",
        /// The final sanding.
        FinalSand = "final-sand",
        /// Buffing.
        Buff = "buff",
        /// Taking the masks off.
        Unmask = "unmask",
        /// The inspection.
        Inspect = "inspect",
        /// Joining body and neck.
        Mate = "mate",
    }
);

impl StepKind {
    /// What a step of this kind is done with, where its recipe does not say: common practice, no source. A wash coat is
    /// thinned sealer or lacquer, and a tinted lacquer has a stain in it. Varnish counts as a clear coat, where the finish
    /// is one that dries by the air's oxygen.
    pub const fn done_with(self, finish: Drying) -> &'static [MaterialKind] {
        use MaterialKind::{Filler, Lacquer, Oil, Sealer, Stain};
        match (self, finish) {
            (Self::Wash, Drying::Oxidising) => &[Sealer, Lacquer, Oil],
            (Self::Wash, _) => &[Sealer, Lacquer],
            (Self::Fill, _) => &[Filler],
            (Self::Colour, _) => &[Stain],
            (Self::Seal, _) => &[Sealer],
            (Self::Clear | Self::DropFill, Drying::Oxidising) => &[Lacquer, Oil],
            (Self::Clear | Self::DropFill, _) => &[Lacquer],
            _ => &[],
        }
    }

    /// Whether the step lays something wet, which restarts every dry and cure clock below it.
    pub const fn wets(self) -> bool {
        matches!(
            self,
            Self::Wash | Self::Fill | Self::Colour | Self::Seal | Self::Clear | Self::DropFill
        )
    }

    /// Whether the step takes film away with an abrasive.
    pub const fn sands(self) -> bool {
        matches!(self, Self::Scuff | Self::LevelSand | Self::FinalSand)
    }

    /// Whether the piece is taken down from its hook for it, so that the step is done to one piece after another.
    pub const fn takes_down(self) -> bool {
        matches!(
            self,
            Self::FinalSand | Self::Buff | Self::Unmask | Self::Inspect | Self::Mate
        )
    }

    /// Whether the step is only a wait: nothing is done, a clock runs.
    pub const fn waits(self) -> bool {
        matches!(self, Self::Rest | Self::Cure)
    }
}

words!(
    /// What can be wrong with a film or the wood under it, in the trade's own words.
    Defect {
        /// A run or sag.
        Run = "run",
        /// A surface like an orange's.
        OrangePeel = "orange-peel",
        /// Rough, dry overspray.
        DrySpray = "dry-spray",
        /// Milky from damp.
        Blush = "blush",
        /// Craters round silicone or oil.
        Fisheye = "fisheye",
        /// Pinholes, solvent pop.
        Pinhole = "pinhole",
        /// Dust or lint in the film.
        Dirt = "dirt",
        /// Sanded through the clear, into sealer or clear below.
        ThroughClear = "through-clear",
        /// Sanded through to the colour.
        ThroughColour = "through-colour",
        /// Sanded through to the wood.
        ThroughWood = "through-wood",
        /// Buffed through.
        BurnThrough = "burn-through",
        /// Sunk: pores or glue lines print through.
        Sink = "sink",
        /// Checks and cracks.
        Check = "check",
        /// The film lifts.
        Lifting = "lifting",
        /// Bled under the mask.
        Bleed = "bleed",
        /// A print or contact mark.
        Print = "print",
        /// The colour is off.
        ColourOff = "colour-off",
        /// A ding or dent.
        Ding = "ding",
        /// Glue in the wood.
        Glue = "glue",
        /// Something else, in the note.
        Other = "other",
    }
);

words!(
    /// What becomes of a piece or a finding after a look at it.
    Verdict {
        /// Taken as it is.
        Take = "take",
        /// Held until something is settled.
        Hold = "hold",
        /// Sent back to where it came from.
        Return = "return",
        /// To be worked over.
        Rework = "rework",
        /// Not to be mended.
        Scrap = "scrap",
    }
);

words!(
    /// How a neck sits in its body at the trial fit.
    Fit {
        /// As it should.
        Snug = "snug",
        /// Too tight: film in the pocket.
        Tight = "tight",
        /// Too loose.
        Loose = "loose",
    }
);

words!(
    /// The rub test on a filler.
    Rub {
        /// Powders: dry.
        Powder = "powder",
        /// Smears: not dry.
        Smear = "smear",
    }
);

words!(
    /// Which rule a deed or a wait is held against. The word is kept in the ledger with each deviation.
    Rule {
        /// The piece is on hold.
        Held = "held",
        /// The piece is scrapped.
        Scrapped = "scrapped",
        /// An earlier step of the recipe is not done.
        Order = "order",
        /// Too soon after the coat before.
        Interval = "interval",
        /// Too many coats in one production day.
        DailyCap = "daily-cap",
        /// Too soon after the last wet coat for this step.
        Dry = "dry",
        /// Too little credited cure.
        Cure = "cure",
        /// A rest of the recipe is not over.
        Rest = "rest",
        /// A scuff is asked for after a long gap.
        ScuffFirst = "scuff-first",
        /// More coats than the recipe has.
        ExtraCoat = "extra-coat",
        /// The recipe has no such step.
        NotInRecipe = "not-in-recipe",
        /// The mix holds more retarder than a finisher may use alone.
        Retarder = "retarder",
        /// What is in the cup is not what the step is done with.
        Material = "material",
        /// The film left is thinner than nothing: figures do not fit the deed.
        FilmBelowNothing = "film-below-nothing",
        /// The clock is not confirmed: no time is reached by it. It holds back a judgement and is no deviation.
        Clock = "clock",
        /// Written more than a day after the deed.
        WrittenLate = "written-late",
        /// The piece is mated; its own schedule has ended.
        Mated = "mated",
        /// The mix in the cup is older than its pot life.
        PotLife = "pot-life",
        /// The shelf life of a lot in the cup is over.
        ShelfLife = "shelf-life",
        /// The air is outside the recipe's limits for this deed.
        Air = "air",
        /// The film grows above what the recipe or the sheet allows.
        FilmCap = "film-cap",
        /// Less light than the recipe asks for.
        Dose = "dose",
        /// A filled spot is not dry yet.
        SpotDry = "spot-dry",
        /// Body and neck have colour from different batches.
        ColourBatch = "colour-batch",
        /// The two do not belong together.
        Pair = "pair",
        /// The other half of the pair is not there yet.
        OtherHalf = "other-half",
        /// The trial fit is not as it should be.
        Fit = "fit",
        /// The inspector is the one who buffed.
        OwnWork = "own-work",
        /// The wheel had another compound on it.
        Wheel = "wheel",
        /// The grit sequence goes back or ends coarser than the recipe's.
        Grit = "grit",
        /// The wood is wetter or drier than the recipe allows.
        Moisture = "moisture",
        /// The filler smears in the rub test.
        Rub = "rub",
        /// A finding asks for rework or scrap.
        Finding = "finding",
        /// By the recipe's model more solvent is left in the film than its own schedule leaves: an estimate.
        Solvent = "solvent",
    }
);

words!(
    /// What somebody is in the shop.
    Role {
        /// Sprays, sands and buffs.
        Finisher = "finisher",
        /// Gives a word on holds, deviations and people.
        Supervisor = "supervisor",
        /// Keeps the limits and the month's solvent.
        SafetyLead = "safety lead",
    }
);

words!(
    /// The one-digit reasons for a deviation, in the order of their keys 1 to 9.
    Reason {
        /// Asked for at the booth, to be given later.
        Later = "later",
        /// The due date pressed.
        DueDate = "due date",
        /// A repair or touch-up.
        Repair = "repair",
        /// The film was thinner than planned.
        ThinFilm = "thin film",
        /// The wrong piece or rack.
        WrongPiece = "wrong piece",
        /// Equipment stopped.
        Equipment = "equipment",
        /// Told to by the supervisor.
        Told = "told by supervisor",
        /// A trial.
        Trial = "trial",
        /// Something else, in the note.
        Other = "other",
    }
);

impl Reason {
    /// What stands beside its digit where the reason is asked for; the record keeps the word.
    pub fn asked(self) -> &'static str {
        match self {
            Self::Later => "give it later",
            other => other.word(),
        }
    }

    /// The digit key of the reason, 1 to 9.
    pub fn digit(self) -> u8 {
        Self::ALL
            .iter()
            .position(|r| *r == self)
            .and_then(|n| u8::try_from(n + 1).ok())
            .unwrap_or(1)
    }

    /// The reason of a digit key.
    pub fn from_digit(digit: u8) -> Option<Self> {
        Self::ALL.get(usize::from(digit).checked_sub(1)?).copied()
    }
}

words!(
    /// The judgement on a piece at a moment.
    Outlook {
        /// The next step's recipe time is reached; check by hand.
        Ready = "ready",
        /// The next step must wait.
        Waiting = "waiting",
        /// A begun deed is not ended.
        InWork = "in work",
        /// Held, scrapped or mated.
        Held = "held",
        /// Something needed is not known.
        Unknown = "unknown",
    }
);
