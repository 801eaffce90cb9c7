//! Recipes: the ordered steps for one finish, with every limit.
//!
//! *Invariants*: an adopted revision never changes; a piece stays on its revision unless it is moved with a reason.
//! Minimum waits always hold; nothing computed elsewhere shortens them.
//!
//! *Not here*: reading the file (`recipe_file`), judging a deed (`rules`).

use super::grit::Grit;
use super::words::{Defect, Drying, MaterialKind, PieceKind, StepKind};
use crate::science::cure::RateLaw;
use crate::science::measure::Quantity;
use crate::science::mix::pot_life;
use crate::science::psychrometrics::{MAGNUS_WMO, drying_power};
use crate::units::{Amount, Film, Humidity, Share, Span, Temperature, num};
use std::collections::BTreeMap;
use uom::si::f64::{Ratio, ThermodynamicTemperature, Time};

/// One revision of a recipe.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recipe {
    /// The shop's short code.
    pub code: String,
    /// Revision, counted from 1.
    pub revision: u32,
    /// The name that people read.
    pub name: String,
    /// How its film forms.
    pub finish: Drying,
    /// Kinds of piece that it is for.
    pub kinds: Vec<PieceKind>,
    /// Surfaces with a schedule of their own; `["whole"]` when the piece is treated as one.
    pub surfaces: Vec<String>,
    /// Whether a tack coat counts as a coat.
    pub tack_counts: bool,
    /// The finished film that is aimed for, lower end.
    pub film_low: Film,
    /// The finished film that is aimed for, upper end.
    pub film_high: Film,
    /// Bands of surfaces that aim for another film.
    pub film_bands: Vec<FilmBand>,
    /// The dry film that must not be exceeded at any time, where a sheet or the shop names one.
    pub film_cap: Option<Film>,
    /// The steps in order.
    pub steps: Vec<Step>,
    /// What a retarder in the mix changes, weakest rule first.
    pub retarder: Vec<RetarderRule>,
    /// How hours in a room count towards the cure.
    pub credit: CreditPolicy,
    /// Booth air limits, each optional.
    pub booth: BoothLimits,
    /// What a mix that reacts in the pot asks for.
    pub reaction: Option<Reaction>,
    /// The solvent model that may hold a cure back, where the recipe switches it on.
    pub solvent: Option<SolventModel>,
    /// Rework routes that a defect can open.
    pub reworks: Vec<Rework>,
    /// Steps of a surface, where they are not those of the whole branch: see [`Recipe::route`].
    pub routes: BTreeMap<(Option<String>, String), Vec<Step>>,
}

/// One line of a recipe.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// The name that people read, unique in the recipe.
    pub name: String,
    /// What is done.
    pub kind: StepKind,
    /// The surfaces that it is for; empty for all of the recipe.
    pub on: Vec<String>,
    /// Coats of a step that wets, stages of buffing; 1 for other deeds, 0 for a wait.
    pub count: u32,
    /// Least wait since the last wet coat before the step begins.
    pub after: Option<Span>,
    /// Least wait from the end of one coat to the start of the next.
    pub between: Option<Span>,
    /// Most coats of this kind in one production day.
    pub per_day: Option<u32>,
    /// After a longer gap than this since the last wet coat, a scuff comes first.
    pub scuff_after: Option<Span>,
    /// Longest time that a piece stands ready for the step before it is called out.
    pub queue: Option<Span>,
    /// Dry film that one coat adds when the mix has the assumed solids.
    pub film: Film,
    /// Volume solids for which `film` is stated.
    pub solids: Option<Share>,
    /// Kinds of material of which one must be in the cup; empty where the kind of the step says it, see
    /// [`Recipe::done_with`].
    pub with: Vec<MaterialKind>,
    /// Dry film that the step takes away.
    pub removes: Film,
    /// Length of a rest, or credited hours of a cure.
    pub hours: Option<Span>,
    /// After so many coats of the step a longer rest comes, and how long it is.
    pub rest_after: Option<(u32, Span)>,
    /// How long a filled spot dries before it may be levelled.
    pub dry: Option<Span>,
    /// Light that a cure under a lamp asks for, in uJ/cm2: the cure is a deed then.
    pub dose: Option<i64>,
    /// Peak irradiance that it asks for, in uW/cm2.
    pub peak: Option<i64>,
    /// Grits of a sanding in their order.
    pub grits: Vec<Grit>,
    /// Compounds of buffing, one for each stage.
    pub compounds: Vec<String>,
    /// Moisture content of the wood, of the dry mass: from, to.
    pub moisture: Option<(Share, Share)>,
}

impl Step {
    /// Whether the step is only a wait: nothing is done, a clock runs. A cure under a lamp is a deed.
    pub const fn waits(&self) -> bool {
        self.kind.waits() && self.dose.is_none()
    }
}

/// The finished film that one surface aims for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FilmBand {
    /// The surface.
    pub surface: String,
    /// Lower end.
    pub low: Film,
    /// Upper end.
    pub high: Film,
}

/// What the solvent model is fixed by, besides the recipe's own schedule, film and hours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SolventModel {
    /// Share of the solvent that is left when the cure of the recipe's own schedule is over.
    pub left: Share,
    /// Depth to which a fresh coat wets the old film again.
    pub burn_in: Film,
}

/// What a mix that reacts in the pot asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reaction {
    /// How long the mix may be used.
    pub pot_life: Span,
    /// The temperature for which that is stated.
    pub pot_life_at: Temperature,
    /// Activation energy in J/mol, where a warmer mix is to be reckoned shorter.
    pub activation: Option<i64>,
    /// How long the mix stands before it is used.
    pub induction: Option<Span>,
}

impl Reaction {
    /// The pot life at a temperature: shorter in warmth by Arrhenius' law ([`pot_life`]), never longer than stated.
    pub fn pot_life(&self, at: Option<Temperature>) -> Span {
        let (Some(at), Some(energy)) = (at.filter(|t| *t > self.pot_life_at), self.activation)
        else {
            return self.pot_life;
        };
        let life = pot_life(
            Time::of_base(num::float(self.pot_life.0) / 1e3),
            kelvin(self.pot_life_at),
            kelvin(at),
            num::float(energy),
        );
        num::whole((life.to_base() * 1e3).floor()).map_or(self.pot_life, Span)
    }
}

/// What a share of retarder in the mix changes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RetarderRule {
    /// Applies when the mix holds more than this share.
    pub above: Share,
    /// The wait between coats becomes at least this.
    pub between: Option<Span>,
    /// The wait before sanding becomes at least this.
    pub dry: Option<Span>,
    /// A supervisor's name is asked for.
    pub supervisor: bool,
}

/// How an hour at a temperature counts towards the cure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CreditPolicy {
    /// The law; without one the bands hold.
    pub law: CreditLaw,
    /// Bands from cold to warm, without overlap. Half-open `[from, to)`, except a band that says otherwise.
    pub bands: Vec<CreditBand>,
    /// Thousandths of an hour that an hour in a room without readings counts.
    pub unlogged_permille: i64,
}

/// How an hour's credit follows from the air.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CreditLaw {
    /// By the bands of temperature.
    Bands,
    /// A reaction that cold slows down.
    Arrhenius {
        /// Where an hour counts in full.
        reference: Temperature,
        /// Activation energy in J/mol.
        activation: i64,
        /// Below this nothing counts.
        floor: Option<Temperature>,
        /// Above this relative humidity nothing counts.
        humidity_high: Option<Humidity>,
    },
    /// Water that must leave: slower in cold and in damp air.
    Evaporation {
        /// Where an hour counts in full.
        reference: Temperature,
        /// Relative humidity where an hour counts in full.
        reference_humidity: Humidity,
        /// Below this the particles do not flow together and nothing counts.
        floor: Temperature,
        /// Above this relative humidity nothing counts.
        humidity_high: Option<Humidity>,
    },
}

/// One temperature band of a credit policy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CreditBand {
    /// Lower end, included; `None` reaches down for ever.
    pub from: Option<Temperature>,
    /// Upper end; `None` reaches up for ever.
    pub to: Option<Temperature>,
    /// Whether the upper end belongs to the band.
    pub to_included: bool,
    /// Thousandths of an hour that an hour counts.
    pub permille: i64,
    /// Whether a temperature in the band is worth telling someone.
    pub alert: bool,
}

/// Limits of the booth's air, each optional.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct BoothLimits {
    /// Highest relative humidity.
    pub humidity_high: Option<Humidity>,
    /// Least difference between air temperature and dew point, in mK.
    pub spread_low_mk: Option<i64>,
    /// Coldest air.
    pub temperature_low: Option<Temperature>,
    /// Warmest air.
    pub temperature_high: Option<Temperature>,
    /// Temperature below which the film does not form; a coat wants [`FILM_MARGIN`] more.
    pub film_forming: Option<Temperature>,
}

/// What a waterborne coat wants above its film-forming temperature: 3 K (from memory, to be confirmed).
pub const FILM_MARGIN: Temperature = Temperature(3_000);

/// A rework route: its own steps, coats and clocks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rework {
    /// Short code.
    pub code: String,
    /// The name that people read.
    pub name: String,
    /// 1 local clear, 2 local with colour, 3 surface, 4 strip.
    pub level: u8,
    /// The defects that it mends.
    pub defects: Vec<Defect>,
    /// The step of the main line with which the surface goes on afterwards. Where it is left out, the surface goes on
    /// where it stood; a rework with a cure that is opened after the main cure does for the steps that it repeats.
    pub rejoin: Option<String>,
    /// Whether the film comes off down to the wood: the branch then starts with none.
    pub bare: bool,
    /// The steps in order.
    pub steps: Vec<Step>,
}

impl Recipe {
    /// `G9 rev 3`.
    pub fn label(&self) -> String {
        format!("{} rev {}", self.code, self.revision)
    }

    /// The kinds of material of which a coat of a step has one in the cup: what the step says, else what is usual for
    /// its kind.
    pub fn done_with<'a>(&self, step: &'a Step) -> &'a [MaterialKind] {
        if step.with.is_empty() {
            step.kind.done_with(self.finish)
        } else {
            &step.with
        }
    }

    /// The steps of a branch: the main line, or a rework route by its code.
    pub fn steps_of(&self, rework: Option<&str>) -> &[Step] {
        match rework {
            None => &self.steps,
            Some(code) => self
                .reworks
                .iter()
                .find(|r| r.code == code)
                .map_or(&[], |r| &r.steps),
        }
    }

    /// The steps of one surface in a branch: those of the branch that are for it, in order.
    pub fn route(&self, rework: Option<&str>, surface: &str) -> &[Step] {
        self.routes
            .get(&(rework.map(str::to_owned), surface.to_owned()))
            .map_or_else(|| self.steps_of(rework), Vec::as_slice)
    }

    /// Sorts out which steps are for which surface. A recipe is read once and asked often.
    pub(super) fn with_routes(mut self) -> Self {
        let branches = std::iter::once((None, &self.steps)).chain(
            self.reworks
                .iter()
                .map(|r| (Some(r.code.clone()), &r.steps)),
        );
        let mut routes = BTreeMap::new();
        for (code, steps) in branches {
            if steps.iter().all(|s| s.on.is_empty()) {
                continue;
            }
            for surface in &self.surfaces {
                let own = steps
                    .iter()
                    .filter(|s| s.on.is_empty() || s.on.contains(surface))
                    .cloned()
                    .collect();
                routes.insert((code.clone(), surface.clone()), own);
            }
        }
        self.routes = routes;
        self
    }

    /// The rework with this code.
    pub fn rework(&self, code: &str) -> Option<&Rework> {
        self.reworks.iter().find(|r| r.code == code)
    }

    /// The finished film that a surface aims for.
    pub fn band(&self, surface: &str) -> (Film, Film) {
        self.film_bands
            .iter()
            .find(|b| b.surface == surface)
            .map_or((self.film_low, self.film_high), |b| (b.low, b.high))
    }

    /// Film of a surface after all its steps of the main line, by the recipe's own figures. Spots that are filled add
    /// nothing.
    pub fn planned_film_on(&self, surface: &str) -> Film {
        Film(
            self.route(None, surface)
                .iter()
                .filter(|s| s.kind != StepKind::DropFill)
                .map(|s| s.film.0 * i64::from(s.count) - s.removes.0)
                .sum(),
        )
    }

    /// The planned film of the surface that gets least, see [`Recipe::planned_film_on`].
    pub fn planned_film(&self) -> Film {
        self.surfaces
            .iter()
            .map(|s| self.planned_film_on(s))
            .min()
            .unwrap_or_default()
    }

    /// The strictest retarder rule that a mix with this share trips.
    pub fn retarder_rule(&self, share: Share) -> Option<&RetarderRule> {
        self.retarder
            .iter()
            .filter(|r| share > r.above)
            .max_by_key(|r| r.above)
    }
}

impl CreditPolicy {
    /// Thousandths of an hour that an hour in this air counts; `None` where the law needs a humidity that was not read.
    /// A temperature in no band counts nothing; a law never counts more than a whole hour.
    pub fn permille(&self, at: Temperature, humidity: Option<Humidity>) -> Option<i64> {
        match self.law {
            CreditLaw::Bands => Some(self.band(at).map_or(0, |b| b.permille)),
            CreditLaw::Arrhenius {
                reference,
                activation,
                floor,
                humidity_high,
            } => {
                // What is too cold counts nothing, however damp it was.
                if floor.is_some_and(|floor| at < floor) {
                    return Some(0);
                }
                if humidity_high.is_some() && humidity.is_none() {
                    return None;
                }
                let law = RateLaw {
                    reference: kelvin(reference),
                    energy_cold: num::float(activation),
                    energy_hot: num::float(activation),
                    cap: 1.0,
                    lowest: floor.map_or_else(|| kelvin(Temperature(Temperature::LOW)), kelvin),
                    dampest: humidity_high.map(share),
                };
                num::whole((law.rate(kelvin(at), humidity.map(share)) * 1e3).floor())
            }
            CreditLaw::Evaporation {
                reference,
                reference_humidity,
                floor,
                humidity_high,
            } => {
                if at < floor {
                    return Some(0);
                }
                let humidity = humidity?;
                if humidity_high.is_some_and(|high| humidity > high) {
                    return Some(0);
                }
                let rate = drying_power(
                    (kelvin(at), share(humidity)),
                    (kelvin(reference), share(reference_humidity)),
                    &MAGNUS_WMO,
                )
                .ok()?;
                num::whole((rate.to_base().min(1.0) * 1e3).floor())
            }
        }
    }

    /// The band of a temperature.
    pub fn band(&self, at: Temperature) -> Option<&CreditBand> {
        self.bands.iter().find(|b| {
            b.from.is_none_or(|from| at >= from)
                && b.to.is_none_or(|to| at < to || (b.to_included && at == to))
        })
    }
}

fn kelvin(t: Temperature) -> ThermodynamicTemperature {
    ThermodynamicTemperature::of_base(t.base())
}

fn share(h: Humidity) -> Ratio {
    Ratio::of_base(h.base())
}

/// The whole piece as one surface.
pub const WHOLE: &str = "whole";

#[cfg(test)]
mod tests {
    use super::*;

    fn policy(law: CreditLaw) -> CreditPolicy {
        CreditPolicy {
            law,
            bands: Vec::new(),
            unlogged_permille: 0,
        }
    }

    #[test]
    fn a_pot_lives_shorter_in_warmth_and_never_longer_in_the_cold() {
        // Coatings reference, other mechanisms: 4 h at 20 C with 50 kJ/mol is 2.03 h at 30 C (derived there).
        let reaction = Reaction {
            pot_life: Span::hours(4),
            pot_life_at: Temperature(20_000),
            activation: Some(50_000),
            induction: None,
        };
        let warm = reaction.pot_life(Some(Temperature(30_000)));
        assert!((warm.0 - 7_308_000).abs() < 18_000, "{}", warm.words());
        assert_eq!(reaction.pot_life(Some(Temperature(15_000))), Span::hours(4));
        assert_eq!(reaction.pot_life(None), Span::hours(4));
    }

    #[test]
    fn water_leaves_slower_in_cold_and_damp_air() {
        // Coatings reference, other mechanisms: 18 C and 65 % against 21 C and 50 % is 0.581 (derived there).
        let law = policy(CreditLaw::Evaporation {
            reference: Temperature(21_000),
            reference_humidity: Humidity(5_000),
            floor: Temperature(13_000),
            humidity_high: Some(Humidity(7_000)),
        });
        let counts = |t, h| law.permille(Temperature(t), Some(Humidity(h)));
        // Thousandths are rounded down: a credit is never more than was earned.
        assert_eq!(counts(18_000, 6_500), Some(580));
        assert_eq!(counts(21_000, 5_000), Some(1_000));
        assert_eq!(counts(28_000, 3_000), Some(1_000));
        assert_eq!(counts(12_999, 3_000), Some(0));
        assert_eq!(law.permille(Temperature(21_000), None), None);
        // Too damp counts nothing, and too cold counts nothing whether or not the damp is known.
        assert_eq!(counts(21_000, 7_000), Some(600));
        assert_eq!(counts(21_000, 7_001), Some(0));
        assert_eq!(law.permille(Temperature(12_999), None), Some(0));
    }

    #[test]
    fn a_reaction_counts_less_in_the_cold_and_never_more_than_the_hour() {
        let law = policy(CreditLaw::Arrhenius {
            reference: Temperature(21_000),
            activation: 55_000,
            floor: Some(Temperature(10_000)),
            humidity_high: Some(Humidity(8_000)),
        });
        let counts = |t, h| law.permille(Temperature(t), Some(Humidity(h)));
        assert_eq!(counts(21_000, 5_000), Some(1_000));
        assert_eq!(counts(30_000, 5_000), Some(1_000));
        let cold = counts(15_000, 5_000).unwrap();
        assert!((600..650).contains(&cold), "{cold}");
        assert_eq!(counts(9_000, 5_000), Some(0));
        assert_eq!(counts(21_000, 8_100), Some(0));
        assert_eq!(law.permille(Temperature(21_000), None), None);
        assert_eq!(law.permille(Temperature(9_999), None), Some(0));
    }
}
