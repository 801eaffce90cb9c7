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

    /// Whether the step is only a wait: nothing is done, a clock runs.
    pub const fn waits(self) -> bool {
        matches!(self, Self::Rest | Self::Cure)
    }
}

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
        /// The film left is thinner than nothing: figures do not fit the deed.
        FilmBelowNothing = "film-below-nothing",
        /// Written more than a day after the deed.
        WrittenLate = "written-late",
        /// The piece is mated; its own schedule has ended.
        Mated = "mated",
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
