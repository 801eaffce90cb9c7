//! The film: dry from wet, coats, spreading, sanding, the ledger of a piece and what the film weighs.
//!
//! *Invariants*: dry film is counted on the flats; volume solids are a share of the mix as it is sprayed, and the two
//! ways of stating thinner (added to the lacquer, share of the mix) are never mixed up; a transfer efficiency is
//! always given, never assumed.
//!
//! *Not here*: which coats a piece has had and what a recipe wants; solvent still in the film (`cure`).

use uom::si::f64::{Area, Length, Mass, MassDensity, Ratio, ReciprocalLength, Volume};
use uom::si::ratio::ratio;

use super::measure::{
    AREA, AREAL_MASS, CUP, DENSITY, FILM, GRAMS, Measure, NUMBER, Quantity, SHARE, SIZE, SPREAD,
};
use super::statistics::normal_below;
use super::worksheet::{Input, Inputs, Refusal, Sheet, Worksheet};
use crate::units::{Amount, Film as KeptFilm, Share as KeptShare, num};

const SOLIDS_SOURCE: &str = "conservation of the volume of solids (arithmetic)";
const THINNED: &str = "solids / (1 + added), or solids x (1 - of-mix)";
const GUM: &str = "JCGM 100:2008 (GUM), first-order law of propagation, with correlated inputs \
     (from memory, to be confirmed)";

fn share(value: f64) -> Ratio {
    Ratio::new::<ratio>(value)
}

/// Dry film of a wet film.
///
/// Symbols: `wet` film as the comb reads it (m), `solids` by volume of the mix as sprayed (share).
/// Valid: reading taken before appreciable solvent loss, level film without pores.
/// Equation: `dry = wet * solids`. Source: conservation of volume.
/// Accuracy: that of the readings. Ignores: porosity of the wood, edges, volume change on mixing.
pub fn dry_from_wet(wet: Length, solids: Ratio) -> Length {
    wet * solids
}

/// Which figures a coat's film in the record rests on. The first that exists holds; a gauge reading of the whole
/// film replaces all of them, see [`film_after`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FilmRule {
    /// Wet readings and the volume solids of the mix, or of the recipe where the mix is not known.
    WetReadings,
    /// The recipe's film, for the solids that the mix has.
    RecipeBySolids,
    /// The recipe's film as it stands.
    Recipe,
}

/// Dry film of one coat as the record keeps it, and what it rests on.
///
/// Symbols: `wet` readings (nm), `mix` volume solids of the mix used (ppm), `film` and `assumed` dry film of the
/// recipe's step and the volume solids that it is stated for.
/// Equation: `mean(wet) * mix`, else `film * mix / assumed`, else `film`; rounded half-to-even to whole nanometres.
/// Source: the house's own rule, on [`dry_from_wet`]. Accuracy: that of the readings, or of the recipe's figure.
/// Ignores: what left the gun; an amount is a cross-check until a transfer efficiency is entered.
pub fn kept_coat(
    wet: &[KeptFilm],
    mix: Option<KeptShare>,
    film: KeptFilm,
    assumed: Option<KeptShare>,
) -> (KeptFilm, FilmRule) {
    let rounded = |numerator, denominator| {
        KeptFilm(i64::try_from(num::round_half_even(numerator, denominator)).unwrap_or(0))
    };
    let readings = i128::try_from(wet.len()).unwrap_or(0);
    if let (true, Some(solids)) = (readings > 0, mix.or(assumed)) {
        let sum: i128 = wet.iter().map(|f| i128::from(f.0)).sum();
        let dry = rounded(sum * i128::from(solids.0), readings * 1_000_000);
        return (dry, FilmRule::WetReadings);
    }
    match (mix, assumed) {
        (Some(mix), Some(assumed)) if assumed.0 > 0 => (
            rounded(
                i128::from(film.0) * i128::from(mix.0),
                i128::from(assumed.0),
            ),
            FilmRule::RecipeBySolids,
        ),
        _ => (film, FilmRule::Recipe),
    }
}

/// What a deed did to a film.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FilmDeed {
    /// It added this much.
    Adds(KeptFilm),
    /// It took this much off.
    Takes(KeptFilm),
    /// A gauge read this: it replaces all film before it.
    Gauge(KeptFilm),
}

/// Film in nanometres after one more deed. Below zero when more was taken off than the record ever put on.
///
/// Equation: `film + added`, `film - taken`, or the reading. Source: arithmetic. Ignores: uncertainty, see [`build`].
pub const fn film_after(film_nm: i64, deed: FilmDeed) -> i64 {
    match deed {
        FilmDeed::Adds(film) => film_nm.saturating_add(film.0),
        FilmDeed::Takes(film) => film_nm.saturating_sub(film.0),
        FilmDeed::Gauge(film) => film.0,
    }
}

/// Wet film that leaves a wanted dry film: `wet = dry / solids`, the inverse of [`dry_from_wet`].
///
/// Symbols: `dry` (m), `solids` by volume as sprayed (share, above 0). Source, accuracy and what it ignores: as
/// there. Gives an infinite film for solids of 0; the worksheets refuse that before.
pub fn wet_for_dry(dry: Length, solids: Ratio) -> Length {
    dry / solids
}

/// Volume solids after thinner was added per volume of lacquer.
///
/// Symbols: `solids` of the unthinned lacquer (share), `added` thinner volume per lacquer volume (share, 0 or more).
/// Equation: `solids / (1 + added)`. Source: conservation of volume.
/// Ignores: the volume change on mixing, a few tenths of a percent (from memory, to be confirmed).
pub fn solids_with_added(solids: Ratio, added: Ratio) -> Ratio {
    solids / (share(1.0) + added)
}

/// Volume solids when thinner is a share of the finished mix.
///
/// Symbols: `solids` of the unthinned lacquer (share), `of_mix` thinner as a share of the mix (0 to below 1).
/// Equation: `solids * (1 - of_mix)`. Source and what it ignores: as [`solids_with_added`].
pub fn solids_with_share(solids: Ratio, of_mix: Ratio) -> Ratio {
    solids * (share(1.0) - of_mix)
}

/// Wet film from the volume that left the gun.
///
/// Symbols: `volume` (m3), `area` coated (m2), `transfer` share of it that lands on the piece.
/// Valid: transfer above 0 and at most 1. Equation: `volume * transfer / area`; 1 mL on 1 m2 is 1 um.
/// Source: arithmetic. Accuracy: that of the transfer efficiency, 15 to 30 % until a shop has learned its own (from
/// memory, to be confirmed). Ignores: uneven spread over the piece.
pub fn wet_from_volume(volume: Volume, area: Area, transfer: Ratio) -> Length {
    volume * transfer / area
}

/// Area that a volume covers at a dry film.
///
/// Symbols: `solids` by volume (share), `dry` film (m), `transfer` (share; 1 gives the theoretical figure).
/// Equation: `solids * transfer / dry`; in US units 1604.17 * solids / mil in ft2/gal.
/// Source: conservation of volume with 231 in3 in a gallon. Ignores: what stays in the cup and the hose.
pub fn spreading(solids: Ratio, dry: Length, transfer: Ratio) -> ReciprocalLength {
    solids * transfer / dry
}

/// Volume solids from weight solids by the density of the dry film.
///
/// Symbols: `by_weight` non-volatile mass share, `density` of the lacquer and `film` density of the dry film (kg/m3).
/// Equation: `by_weight * density / film`. Valid: volumes add.
/// Source: conservation of mass and volume; the measured way is ASTM D2697 (from memory, to be confirmed).
/// Accuracy: relative error about that of the film density. Ignores: volume change on mixing.
pub fn solids_by_film(by_weight: Ratio, density: MassDensity, film: MassDensity) -> Ratio {
    by_weight * density / film
}

/// Volume solids from weight solids by the density of the volatile part.
///
/// Symbols: as [`solids_by_film`], `solvent` density of the volatile part (kg/m3).
/// Equation: `1 - (1 - by_weight) * density / solvent`. Valid: volumes add.
/// Accuracy: an error of the solvent density counts (1 - solids)/solids times, five times at 17 %; prefer the film
/// side where its density is known. Ignores: volume change on mixing.
pub fn solids_by_solvent(by_weight: Ratio, density: MassDensity, solvent: MassDensity) -> Ratio {
    share(1.0) - (share(1.0) - by_weight) * density / solvent
}

/// Coats that bring a film to its target, counting what sanding will take; 0 when it is there already.
///
/// Symbols: `target` after all sanding, `so_far`, `removed` by sanding still to come, `per_coat` dry (m, above 0).
/// Equation: `ceil((target + removed - so_far) / per_coat)`. Source: arithmetic.
/// Ignores: the spread of single coats. `None` when a coat adds nothing or the count cannot be held.
pub fn coats_needed(
    target: Length,
    so_far: Length,
    removed: Length,
    per_coat: Length,
) -> Option<i64> {
    let coats: f64 = ((target + removed - so_far) / per_coat).get::<ratio>();
    // A billionth of a coat is a rounding of the division, not a coat.
    num::whole((coats - 1e-9).ceil().max(0.0))
}

/// One can or mix from which coats were sprayed: what its coats share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Can {
    /// Solids by volume of the unthinned lacquer.
    pub solids: Ratio,
    /// Its standard uncertainty.
    pub solids_u: Ratio,
    /// Thinner added per lacquer volume.
    pub added: Ratio,
    /// Its standard uncertainty.
    pub added_u: Ratio,
}

/// One coat of a ledger: its wet reading and the can it came from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coat {
    /// Wet film.
    pub wet: Length,
    /// Standard uncertainty of the reading.
    pub wet_u: Length,
    /// Position in the list of cans.
    pub can: usize,
}

/// What sanding took.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Removal {
    /// Film removed.
    pub film: Length,
    /// Its standard uncertainty.
    pub film_u: Length,
}

/// A film with its standard uncertainty and the parts of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Build {
    /// Predicted dry film; negative when more was sanded than was there.
    pub film: Length,
    /// Standard uncertainty.
    pub u: Length,
    /// Part from the single wet readings.
    pub u_readings: Length,
    /// Part from what the coats of a can share: its solids and its thinning.
    pub u_shared: Length,
    /// Part from the removals.
    pub u_removals: Length,
}

impl Build {
    /// One-sided 95 % upper film, `film + 1.645 u`: what a cure model is fed, so that doubt lengthens a wait.
    pub fn upper(&self) -> Length {
        self.film + self.u * 1.645
    }

    /// One-sided 95 % lower film, `film - 1.645 u`: what a sanding is planned by.
    pub fn lower(&self) -> Length {
        self.film - self.u * 1.645
    }
}

/// The film ledger of a piece: coats of several cans less what sanding took, with its standard uncertainty.
///
/// Symbols: wet film `w_i` with `u(w_i)`, solids `s` and added thinner `r` of each can with theirs, removals.
/// Valid: relative uncertainties small enough for a first-order law (below about 30 %).
/// Equation: `L = sum_i w_i s/(1+r) - sum_j q_j`;
/// `u^2 = sum_i (s/(1+r) u(w_i))^2 + sum_can (W/(1+r) u(s))^2 + sum_can (W s/(1+r)^2 u(r))^2 + sum_j u(q_j)^2` with
/// `W` the sum of the wet films of the can: readings are independent, a can's solids and thinning are one error for
/// all its coats and add up in a line.
/// Source: JCGM 100:2008, first-order law (from memory, to be confirmed).
/// Accuracy: within 0.5 % of a Monte Carlo run on the reference stacks. Ignores: a bias common to all wet readings,
/// second-order terms, melting of a coat into the one below (which moves no film).
/// A coat that names no can of the list is refused with its position, counted from 1.
pub fn build(cans: &[Can], coats: &[Coat], removals: &[Removal]) -> Result<Build, usize> {
    let unknown = coats.iter().position(|coat| coat.can >= cans.len());
    if let Some(at) = unknown {
        return Err(at + 1);
    }
    let (mut film, mut readings, mut shared) = (0.0, 0.0, 0.0);
    for (at, can) in cans.iter().enumerate() {
        let thinning = 1.0 + can.added.to_base();
        let solids = can.solids.to_base() / thinning;
        let of_can = || coats.iter().filter(|coat| coat.can == at);
        let wet: f64 = of_can().map(|coat| coat.wet.to_base()).sum();
        film += wet * solids;
        readings += of_can()
            .map(|coat| (solids * coat.wet_u.to_base()).powi(2))
            .sum::<f64>();
        shared += (wet / thinning * can.solids_u.to_base()).powi(2)
            + (wet * solids / thinning * can.added_u.to_base()).powi(2);
    }
    let taken: f64 = removals.iter().map(|r| r.film.to_base()).sum();
    let removed: f64 = removals.iter().map(|r| r.film_u.to_base().powi(2)).sum();
    Ok(Build {
        film: Length::of_base(film - taken),
        u: Length::of_base((readings + shared + removed).sqrt()),
        u_readings: Length::of_base(readings.sqrt()),
        u_shared: Length::of_base(shared.sqrt()),
        u_removals: Length::of_base(removed.sqrt()),
    })
}

/// Chance that a sanding goes through the film at a given place.
///
/// Symbols: `film` and `removal` with standard uncertainties (m).
/// Equation: `P(film - removal < 0) = Phi((removal - film) / sqrt(u_film^2 + u_removal^2))`; without any spread it
/// is 0, 1 or, exactly at the film, 1/2.
/// Valid: errors near normal. Source: normal law (arithmetic). Accuracy: in the tail no better than the guess of the
/// spread. Ignores: edges, which lose two to three times the face (from memory, to be confirmed), and the number of
/// places: one place is judged, a piece has many.
pub fn sand_through(film: Length, film_u: Length, removal: Length, removal_u: Length) -> Ratio {
    let gap = (removal - film).to_base();
    let spread = film_u.to_base().hypot(removal_u.to_base());
    share(if spread > 0.0 {
        normal_below(gap / spread)
    } else if gap > 0.0 {
        1.0
    } else if gap < 0.0 {
        0.0
    } else {
        0.5
    })
}

/// A prediction and an independent reading, weighted by the inverse of their variances.
///
/// Symbols: two films with standard uncertainties (m), both above 0.
/// Equation: `x = (x1/u1^2 + x2/u2^2)/(1/u1^2 + 1/u2^2)`, `u = 1/sqrt(1/u1^2 + 1/u2^2)`.
/// Valid: independent errors, no bias of the gauge. Source: weighted mean of two independent estimates, JCGM 100
/// (from memory, to be confirmed). Ignores: a gauge that reads to the sealer instead of the wood.
pub fn combined(first: (Length, Length), second: (Length, Length)) -> (Length, Length) {
    let weight = |u: Length| 1.0 / u.to_base().powi(2);
    let (one, two) = (weight(first.1), weight(second.1));
    let film = (first.0 * one + second.0 * two) / (one + two);
    (film, Length::of_base(1.0 / (one + two).sqrt()))
}

/// Mass of a dry film: `film * area * density`.
///
/// Symbols: `film` (m), `area` (m2), `density` of the dry film (kg/m3). Source: arithmetic.
/// Ignores: film in pores and on edges.
pub fn film_mass(film: Length, area: Area, density: MassDensity) -> Mass {
    film * area * density
}

/// Relative change of a plate's bending frequency by a film on one face.
///
/// Symbols: `film` thickness and `plate` thickness (m); moduli of film and plate in the same unit (giga-pascal); densities
/// `rho_f` and `rho_w` (kg/m3). Valid: film much thinner than the plate, free plate, one direction.
/// Equation: `sqrt((1 + 3 (Ef/Ew)(t/h)) / (1 + (rho_f t)/(rho_w h))) - 1`.
/// Source: first-order composite plate (from memory, to be confirmed). Accuracy: sign and size only.
/// Ignores: damping, arching, bracing, solvent still in the film.
pub fn frequency_change(
    (film, film_modulus, film_density): (Length, f64, MassDensity),
    (plate, plate_modulus, plate_density): (Length, f64, MassDensity),
) -> Ratio {
    let stiffer = 3.0 * (film_modulus / plate_modulus) * (film / plate).to_base();
    let heavier = (film_density * film / (plate_density * plate)).to_base();
    share(((1.0 + stiffer) / (1.0 + heavier)).sqrt() - 1.0)
}

/// Mean grain sizes in um: FEPA P scale.
///
/// Source: FEPA P / ISO 6344 as listed in a public table, cited from a stored excerpt.
static P_GRAINS: &[(i64, f64)] = &[
    (220, 68.0),
    (240, 58.5),
    (280, 52.2),
    (320, 46.2),
    (360, 40.5),
    (400, 35.0),
    (500, 30.2),
    (600, 25.8),
    (800, 21.8),
    (1000, 18.3),
    (1200, 15.3),
    (1500, 12.6),
    (2000, 10.3),
    (2500, 8.4),
];

/// Mean grain sizes in um: US CAMI scale, from the same table.
static CAMI_GRAINS: &[(i64, f64)] = &[
    (320, 36.0),
    (400, 23.0),
    (600, 16.0),
    (800, 12.6),
    (1000, 10.3),
];

/// Which scale a grit number belongs to. The two give different papers the same number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GritScale {
    /// FEPA P (ISO 6344).
    P,
    /// US CAMI.
    Cami,
}

impl GritScale {
    const fn table(self) -> &'static [(i64, f64)] {
        match self {
            Self::P => P_GRAINS,
            Self::Cami => CAMI_GRAINS,
        }
    }
}

/// Mean grain size of a paper, or `None` for a number that the table does not list.
///
/// Source: see the tables. Accuracy: the standard's class width. Ignores: wear of the paper.
pub fn grain(scale: GritScale, number: i64) -> Option<Length> {
    scale
        .table()
        .iter()
        .find(|(listed, _)| *listed == number)
        .map(|(_, um)| Length::of_base(um * 1e-6))
}

const WET: Input = Input::amount(
    "wet",
    "wet film as the comb reads it",
    FILM,
    (0.0, 1000.0),
    "120 um",
);
const SOLIDS: Input = Input::amount(
    "solids",
    "solids by volume of the lacquer before thinning",
    SHARE,
    (1.0, 100.0),
    "17 %",
);
const ADDED: Input = Input::amount(
    "added",
    "thinner added, as a share of the lacquer's volume",
    SHARE,
    (0.0, 400.0),
    "25 %",
)
.or("0 %");
const OF_MIX: Input = Input::amount(
    "of-mix",
    "thinner as a share of the finished mix (instead of added)",
    SHARE,
    (0.0, 95.0),
    "0 %",
)
.or("0 %");
const TRANSFER: Input = Input::amount(
    "transfer",
    "share of the sprayed volume that lands on the piece",
    SHARE,
    (1.0, 100.0),
    "35 %",
);
const COATED: Input = Input::amount("area", "coated area", AREA, (0.0001, 10.0), "0.5 m2");

/// The solids as sprayed from `solids`, `added` and `of-mix`; the two ways of stating thinner exclude each other.
fn sprayed_solids(inputs: &Inputs) -> Result<Ratio, Refusal> {
    let solids: Ratio = inputs.get("solids")?;
    let added: Ratio = inputs.get("added")?;
    let of_mix: Ratio = inputs.get("of-mix")?;
    match (added.to_base() > 0.0, of_mix.to_base() > 0.0) {
        (true, true) => Err(Refusal::no_answer(
            "of-mix",
            SHARE.text(of_mix.to_base(), crate::units::System::Metric),
            "give either added (share of the lacquer) or of-mix (share of the mix), not both",
        )),
        (_, true) => Ok(solids_with_share(solids, of_mix)),
        _ => Ok(solids_with_added(solids, added)),
    }
}

fn dry_film(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let wet: Length = inputs.get("wet")?;
    let solids = sprayed_solids(inputs)?;
    let dry = dry_from_wet(wet, solids);
    let sheet = Worksheet::new("dry film", dry, FILM)
        .step("solids as sprayed", THINNED, solids, SHARE)
        .step("dry film", "wet x solids as sprayed", dry, FILM)
        .assumes("the wet film was read before much solvent had left, on a level face");
    let wet_u: Option<Length> = inputs.maybe("wet-u")?;
    let (solids_u, added_u): (Option<Ratio>, Option<Ratio>) =
        (inputs.maybe("solids-u")?, inputs.maybe("added-u")?);
    if wet_u.is_none() && solids_u.is_none() && added_u.is_none() {
        return Ok(sheet.assumes("no uncertainty was given, so none is worked out"));
    }
    let of_mix: Ratio = inputs.get("of-mix")?;
    // A share of the mix is turned into the same amount added, whose uncertainty the input states.
    let added = if of_mix.to_base() > 0.0 {
        of_mix / (share(1.0) - of_mix)
    } else {
        inputs.get("added")?
    };
    let can = Can {
        solids: inputs.get("solids")?,
        solids_u: solids_u.unwrap_or_default(),
        added,
        added_u: added_u.unwrap_or_default(),
    };
    let coat = Coat {
        wet,
        wet_u: wet_u.unwrap_or_default(),
        can: 0,
    };
    let built = build(&[can], &[coat], &[])
        .map_err(|_| Refusal::no_answer("wet", "", "the coat belongs to no can"))?;
    Ok(sheet
        .also("standard uncertainty", built.u, FILM)
        .step(
            "part of the wet reading",
            "solids as sprayed x wet-u",
            built.u_readings,
            FILM,
        )
        .step(
            "part of solids and thinning",
            "sqrt((wet / (1 + added) x solids-u)^2 + (dry film / (1 + added) x added-u)^2)",
            built.u_shared,
            FILM,
        )
        .step(
            "standard uncertainty",
            "the two in quadrature",
            built.u,
            FILM,
        )
        .source(GUM)
        .assumes("an uncertainty that was not given counts as none"))
}

/// A quantity that was read as an amount of the record; it was checked against a narrower range before.
fn kept<A: Amount + Default>(quantity: impl Quantity) -> A {
    A::of_base(quantity.to_base()).unwrap_or_default()
}

fn coat_film(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let wet: Vec<Length> = inputs.list("wet")?;
    let readings: Vec<KeptFilm> = wet.iter().map(|film| kept(*film)).collect();
    let mix: Option<Ratio> = inputs.maybe("solids")?;
    let film: Length = inputs.get("recipe-film")?;
    let assumed: Option<Ratio> = inputs.maybe("recipe-solids")?;
    let (dry, rule) = kept_coat(&readings, mix.map(kept), kept(film), assumed.map(kept));
    let dry = Length::of_base(dry.base());
    let sheet = Worksheet::new("dry film", dry, FILM);
    let sheet = match rule {
        FilmRule::WetReadings => {
            let mean = wet
                .iter()
                .fold(Length::of_base(0.0), |sum, film| sum + *film)
                / num::count(wet.len().max(1));
            let sheet = sheet
                .step(
                    "mean wet film",
                    "sum of the readings / their number",
                    mean,
                    FILM,
                )
                .step("dry film", "mean wet film x solids", dry, FILM)
                .assumes("the wet film was read before much solvent had left, on a level face");
            if mix.is_none() {
                sheet.assumes("the mix is not known: the solids that the recipe assumes were taken")
            } else {
                sheet
            }
        }
        FilmRule::RecipeBySolids => sheet
            .step(
                "dry film",
                "recipe-film x solids / recipe-solids",
                dry,
                FILM,
            )
            .assumes("no wet reading: the coat is taken to be as wet as the recipe's"),
        FilmRule::Recipe => sheet
            .step("dry film", "recipe-film", dry, FILM)
            .assumes("no wet reading and no known solids: the recipe's film is taken as it stands"),
    };
    Ok(sheet.assumes(KEPT_FILM))
}

const KEPT_FILM: &str = "kept in whole nanometres, rounded half to even";

fn film_build(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let films: Vec<Length> = inputs.list("film")?;
    let deeds = inputs.words("deed")?;
    if deeds.len() != films.len() {
        return Err(Refusal::no_answer(
            "deed",
            format!("{} values", deeds.len()),
            format!("as many as film, {}", films.len()),
        ));
    }
    let length = |nm: i64| Length::of_base(num::float(nm) / 1e9);
    let (mut film, mut added, mut taken) = (0, 0, 0);
    let mut steps = Vec::with_capacity(films.len());
    for (word, amount) in deeds.iter().zip(films) {
        let amount: KeptFilm = kept(amount);
        let (deed, formula) = match *word {
            "takes" => (FilmDeed::Takes(amount), "film before - taken"),
            "gauge" => (
                FilmDeed::Gauge(amount),
                "the reading, in place of all before",
            ),
            _ => (FilmDeed::Adds(amount), "film before + added"),
        };
        match deed {
            FilmDeed::Adds(nm) => added += nm.0,
            FilmDeed::Takes(nm) => taken += nm.0,
            FilmDeed::Gauge(nm) => (added, taken) = (nm.0, 0),
        }
        film = film_after(film, deed);
        steps.push((formula, film));
    }
    let mut sheet = Worksheet::new("film build", length(film), FILM)
        .also("added, from the last gauge reading on", length(added), FILM)
        .also(
            "taken off, from the last gauge reading on",
            length(taken),
            FILM,
        );
    for (at, (formula, film)) in steps.into_iter().enumerate() {
        sheet = sheet.step(
            &format!("after deed {}", at + 1),
            formula,
            length(film),
            FILM,
        );
    }
    let sheet = sheet
        .assumes("predicted, not measured, unless a gauge reading stands last")
        .assumes("flats only; edges lose more in a sanding");
    Ok(if film < 0 {
        sheet.caution(
            "more was taken off than the record ever put on: a coat is not logged, or a sanding is too large; look at \
             the entries, and ask the supervisor",
        )
    } else {
        sheet
    })
}

fn wet_film_needed(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let dry: Length = inputs.get("dry")?;
    let solids = sprayed_solids(inputs)?;
    let wet = wet_for_dry(dry, solids);
    Ok(Worksheet::new("wet film", wet, FILM)
        .step("solids as sprayed", THINNED, solids, SHARE)
        .step("wet film", "dry / solids as sprayed", wet, FILM)
        .assumes("level film without pores"))
}

fn film_from_volume(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let transfer: Ratio = inputs.get("transfer")?;
    let solids = sprayed_solids(inputs)?;
    let wet = wet_from_volume(inputs.get("volume")?, inputs.get("area")?, transfer);
    let dry = dry_from_wet(wet, solids);
    Ok(Worksheet::new("wet film", wet, FILM)
        .also("dry film", dry, FILM)
        .step("wet film", "volume x transfer / area", wet, FILM)
        .step(
            "solids as sprayed",
            THINNED,
            solids,
            SHARE,
        )
        .step("dry film", "wet x solids as sprayed", dry, FILM)
        .assumes("the film is even over the area; a transfer efficiency differs per gun, part and person"))
}

fn spreading_rate(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let solids = sprayed_solids(inputs)?;
    let dry: Length = inputs.get("dry")?;
    let theory = spreading(solids, dry, share(1.0));
    let sheet = Worksheet::new("theoretical spreading rate", theory, SPREAD)
        .step("solids as sprayed", THINNED, solids, SHARE)
        .step(
            "theoretical spreading rate",
            "solids as sprayed / dry film",
            theory,
            SPREAD,
        );
    Ok(match inputs.maybe::<Ratio>("transfer")? {
        Some(transfer) => {
            let practical = spreading(solids, dry, transfer);
            sheet
                .also("practical spreading rate", practical, SPREAD)
                .step(
                    "practical spreading rate",
                    "theoretical x transfer",
                    practical,
                    SPREAD,
                )
        }
        None => sheet.assumes("nothing is lost: no transfer efficiency was given"),
    })
}

/// Refuses solids that cannot be: the three figures on the sheet then contradict each other.
fn possible_solids(input: &str, solids: Ratio) -> Result<Ratio, Refusal> {
    if (0.0..=1.0).contains(&solids.to_base()) {
        Ok(solids)
    } else {
        Err(Refusal::no_answer(
            input,
            "",
            format!(
                "it gives volume solids of {}, outside 0 to 100 %; the three figures contradict each other",
                SHARE.text(solids.to_base(), crate::units::System::Metric)
            ),
        ))
    }
}

fn volume_solids(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let solids = solids_by_film(
        inputs.get("weight-solids")?,
        inputs.get("density")?,
        inputs.get("film-density")?,
    );
    let solids = possible_solids("film-density", solids)?;
    Ok(Worksheet::new("volume solids", solids, SHARE)
        .step(
            "volume solids",
            "weight solids x density / film density",
            solids,
            SHARE,
        )
        .assumes("volumes add on mixing"))
}

fn volume_solids_by_solvent(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let solids = solids_by_solvent(
        inputs.get("weight-solids")?,
        inputs.get("density")?,
        inputs.get("solvent-density")?,
    );
    let solids = possible_solids("solvent-density", solids)?;
    Ok(Worksheet::new("volume solids", solids, SHARE)
        .step(
            "volume solids",
            "1 - (1 - weight solids) x density / solvent density",
            solids,
            SHARE,
        )
        .assumes("volumes add on mixing")
        .assumes("an error of the solvent density counts (1 - solids)/solids times; prefer volume-solids where the film density is known"))
}

fn coats(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let wet: Length = inputs.get("wet")?;
    let solids = sprayed_solids(inputs)?;
    let per_coat = dry_from_wet(wet, solids);
    let (target, so_far, removed): (Length, Length, Length) = (
        inputs.get("target")?,
        inputs.get("so-far")?,
        inputs.get("removed")?,
    );
    let count = coats_needed(target, so_far, removed, per_coat).ok_or_else(|| {
        Refusal::no_answer("wet", "", "a coat that adds film; this one adds none")
    })?;
    let after = so_far + per_coat * num::float(count) - removed;
    Ok(Worksheet::new("coats needed", num::float(count), NUMBER)
        .also("dry film per coat", per_coat, FILM)
        .also("film after these coats and the sanding", after, FILM)
        .step(
            "dry film per coat",
            "wet x solids as sprayed",
            per_coat,
            FILM,
        )
        .step(
            "coats needed",
            "(target + removed - so far) / dry film per coat, rounded up",
            num::float(count),
            NUMBER,
        )
        .assumes(
            "every coat is as wet as given; a recipe's own limits on coats and film come first",
        ))
}

fn after_sanding(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let film: Length = inputs.get("film")?;
    let film_u: Length = inputs.get("film-u")?;
    let removed: Vec<Length> = inputs.list("removed")?;
    let spread: Ratio = inputs.get("removed-spread")?;
    let mut left = film;
    let mut variance = film_u.to_base().powi(2);
    let mut sheet = Vec::new();
    for (at, taken) in removed.iter().enumerate() {
        left -= *taken;
        variance += (*taken * spread).to_base().powi(2);
        sheet.push((format!("after sanding {}", at + 1), left));
    }
    let u = Length::of_base(variance.sqrt());
    let low = left - u * 1.645;
    let mut answer = Worksheet::new("film left", left, FILM)
        .also("standard uncertainty", u, FILM)
        .also("one-sided 95 % lower film", low, FILM)
        .at_least(
            "film that is to stay on the wood (lower film)",
            Some(low),
            inputs.maybe("floor")?,
            FILM,
        )
        .source(GUM)
        .assumes("each removal is off by its own share of itself, independently")
        .assumes(
            "flats only; edges lose two to three times as much (from memory, to be confirmed)",
        );
    for (what, value) in sheet {
        answer = answer.step(&what, "film before - removed", value, FILM);
    }
    Ok(answer.step(
        "standard uncertainty",
        "sqrt(film-u^2 + sum of (spread x removed)^2)",
        u,
        FILM,
    ))
}

/// The value at a position of a list that may also be one value for all.
fn each<Q: Quantity>(name: &str, list: &[Q], at: usize, count: usize) -> Result<Q, Refusal> {
    let position = if list.len() == 1 { 0 } else { at };
    if list.len() == 1 || list.len() == count {
        list.get(position).copied()
    } else {
        None
    }
    .ok_or_else(|| {
        Refusal::no_answer(
            name,
            format!("{} values", list.len()),
            format!("give one value or {count}"),
        )
    })
}

fn ledger(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let solids: Vec<Ratio> = inputs.list("solids")?;
    let solids_u: Vec<Ratio> = inputs.list("solids-u")?;
    let added: Vec<Ratio> = inputs.list("added")?;
    let added_u: Vec<Ratio> = inputs.list("added-u")?;
    let cans = (0..solids.len())
        .map(|at| {
            Ok(Can {
                solids: each("solids", &solids, at, solids.len())?,
                solids_u: each("solids-u", &solids_u, at, solids.len())?,
                added: each("added", &added, at, solids.len())?,
                added_u: each("added-u", &added_u, at, solids.len())?,
            })
        })
        .collect::<Result<Vec<Can>, Refusal>>()?;
    let wet: Vec<Length> = inputs.list("wet")?;
    let wet_u: Vec<Length> = inputs.list("wet-u")?;
    let from: Vec<f64> = inputs.list("can")?;
    let coats = (0..wet.len())
        .map(|at| {
            let can = num::whole(each("can", &from, at, wet.len())?)
                .and_then(|n| usize::try_from(n - 1).ok())
                .unwrap_or(usize::MAX);
            Ok(Coat {
                wet: each("wet", &wet, at, wet.len())?,
                wet_u: each("wet-u", &wet_u, at, wet.len())?,
                can,
            })
        })
        .collect::<Result<Vec<Coat>, Refusal>>()?;
    let taken: Vec<Length> = inputs.list("removed")?;
    let taken_u: Vec<Length> = inputs.list("removed-u")?;
    let removals = (0..taken.len())
        .map(|at| {
            Ok(Removal {
                film: each("removed", &taken, at, taken.len())?,
                film_u: each("removed-u", &taken_u, at, taken.len())?,
            })
        })
        .collect::<Result<Vec<Removal>, Refusal>>()?;
    let built = build(&cans, &coats, &removals).map_err(|at| {
        Refusal::no_answer(
            "can",
            format!("of coat {at}"),
            format!("1 to {}, the number of solids given", cans.len()),
        )
    })?;
    if built.film.to_base() < 0.0 {
        return Err(Refusal::no_answer(
            "removed",
            FILM.text(built.film.to_base(), crate::units::System::Metric),
            "more film was taken than was there; check the removals and the wet readings",
        ));
    }
    Ok(Worksheet::new("predicted film", built.film, FILM)
        .also("standard uncertainty", built.u, FILM)
        .also("expanded uncertainty (k = 2)", built.u * 2.0, FILM)
        .also("one-sided 95 % upper film", built.upper(), FILM)
        .also("one-sided 95 % lower film", built.lower(), FILM)
        .step(
            "predicted film",
            "sum of wet x solids / (1 + added), less what sanding took",
            built.film,
            FILM,
        )
        .step(
            "from the wet readings",
            "sqrt(sum of (solids / (1 + added) x wet-u)^2)",
            built.u_readings,
            FILM,
        )
        .step(
            "from what a can's coats share",
            "sqrt(sum over cans of (sum of wet / (1 + added) x solids-u)^2 + (sum of wet x solids / (1 + added)^2 x added-u)^2)",
            built.u_shared,
            FILM,
        )
        .step(
            "from the removals",
            "sqrt(sum of removed-u^2)",
            built.u_removals,
            FILM,
        )
        .step(
            "standard uncertainty",
            "the three in quadrature",
            built.u,
            FILM,
        )
        .assumes("predicted, not measured; a gauge reading replaces it")
        .assumes("wet readings are independent; solids and thinning are one error for all coats of a can"))
}

fn chance_of_sanding_through(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let (film, film_u): (Length, Length) = (inputs.get("film")?, inputs.get("film-u")?);
    let (removal, removal_u): (Length, Length) = (inputs.get("removed")?, inputs.get("removed-u")?);
    let factor: f64 = inputs.get("edge-factor")?;
    let spread = Length::of_base(film_u.to_base().hypot(removal_u.to_base()));
    let face = sand_through(film, film_u, removal, removal_u);
    let edge = sand_through(film, film_u, removal * factor, removal_u * factor);
    Ok(
        Worksheet::new("chance of sanding through at one place", face, SHARE)
            .also("the same at an edge", edge, SHARE)
            .also("film left on the face", film - removal, FILM)
            .step(
                "spread of the film left",
                "sqrt(film-u^2 + removed-u^2)",
                spread,
                FILM,
            )
            .step("chance", "normal law, P(film - removed < 0)", face, SHARE)
            .step(
                "chance at an edge",
                "the same with removed and its spread times edge-factor",
                edge,
                SHARE,
            )
            .assumes("errors near normal; one place is judged and a piece has many")
            .assumes("the edge factor is a shop estimate (2 to 3 from memory, to be confirmed)"),
    )
}

fn reading_with_prediction(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let first: (Length, Length) = (inputs.get("predicted")?, inputs.get("predicted-u")?);
    let second: (Length, Length) = (inputs.get("gauge")?, inputs.get("gauge-u")?);
    let (film, u) = combined(first, second);
    let apart = (second.0 - first.0).to_base() / first.1.to_base().hypot(second.1.to_base());
    let sheet = Worksheet::new("combined film", film, FILM)
        .also("standard uncertainty", u, FILM)
        .also(
            "reading less prediction, in standard uncertainties",
            apart,
            NUMBER,
        )
        .step(
            "combined film",
            "(predicted / predicted-u^2 + gauge / gauge-u^2) / (1 / predicted-u^2 + 1 / gauge-u^2)",
            film,
            FILM,
        )
        .step(
            "standard uncertainty",
            "1 / sqrt(1 / predicted-u^2 + 1 / gauge-u^2)",
            u,
            FILM,
        )
        .assumes("the two are independent and the gauge has no bias")
        .assumes(
            "the record itself takes the gauge reading alone; this shows what both say together",
        );
    Ok(if apart.abs() > 2.0 {
        sheet.caution(
            "reading and prediction lie more than two standard uncertainties apart: check the gauge on a known piece \
             and the wet readings before either is used; ask the supervisor",
        )
    } else {
        sheet
    })
}

const FILM_DENSITY: Input = Input::amount(
    "film-density",
    "density of the dry film (1.25 kg/L is derived from one furniture lacquer sheet, to be confirmed)",
    DENSITY,
    (0.8, 2.0),
    "1.25 kg/L",
)
.or("1.25 kg/L");

fn weight(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let film: Length = inputs.get("film")?;
    let area: Area = inputs.get("area")?;
    let density: MassDensity = inputs.get("film-density")?;
    let mass = film_mass(film, area, density);
    let mut sheet = Worksheet::new("mass of the film", mass, GRAMS)
        .also("mass per area", film * density, AREAL_MASS)
        .step("mass", "film x area x film density", mass, GRAMS)
        .assumes("even film; pores and edges not counted");
    let plate: Option<Length> = inputs.maybe("plate")?;
    let plate_density: Option<MassDensity> = inputs.maybe("plate-density")?;
    if let (Some(plate), Some(plate_density)) = (plate, plate_density) {
        let wood: Mass = plate * area * plate_density;
        sheet = sheet
            .also("share of the plate's mass", mass / wood, SHARE)
            .step(
                "mass of the plate",
                "plate x area x plate density",
                wood,
                GRAMS,
            )
            .step(
                "share of the plate's mass",
                "mass of the film / mass of the plate",
                mass / wood,
                SHARE,
            );
    }
    Ok(sheet)
}

fn plate_frequency(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let film: Length = inputs.get("film")?;
    let plate: Length = inputs.get("plate")?;
    let (film_density, plate_density): (MassDensity, MassDensity) =
        (inputs.get("film-density")?, inputs.get("plate-density")?);
    let film_modulus: f64 = inputs.get("film-modulus")?;
    let change = |modulus: f64| {
        frequency_change(
            (film, film_modulus, film_density),
            (plate, modulus, plate_density),
        )
    };
    let along = change(inputs.get("along-grain")?);
    let across = change(inputs.get("across-grain")?);
    let heavier = film_density * film / (plate_density * plate);
    Ok(Worksheet::new("change of frequency along the grain", along, SHARE)
        .also("change of frequency across the grain", across, SHARE)
        .step(
            "mass ratio",
            "(film density x film) / (plate density x plate)",
            heavier,
            SHARE,
        )
        .step(
            "along the grain",
            "sqrt((1 + 3 (film modulus / along-grain)(film / plate)) / (1 + mass ratio)) - 1",
            along,
            SHARE,
        )
        .step("across the grain", "the same with across-grain", across, SHARE)
        .assumes("first order, free flat plate, film on one face; sign and size only, never a prediction of tone")
        .assumes("moduli are from memory, to be confirmed"))
}

fn grit(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let (scale, other, other_name) = match inputs.word("scale")? {
        "cami" => (GritScale::Cami, GritScale::P, "nearest P grit"),
        _ => (GritScale::P, GritScale::Cami, "nearest CAMI grit"),
    };
    let number: f64 = inputs.get("grit")?;
    let size = num::whole(number)
        .and_then(|n| grain(scale, n))
        .ok_or_else(|| {
            let listed: Vec<String> = scale.table().iter().map(|(n, _)| n.to_string()).collect();
            Refusal::no_answer(
                "grit",
                number.to_string(),
                format!("the table lists {}", listed.join(", ")),
            )
        })?;
    let gap = |um: f64| (um * 1e-6 - size.to_base()).abs();
    let nearest = other
        .table()
        .iter()
        .min_by(|a, b| gap(a.1).total_cmp(&gap(b.1)))
        .map_or(0.0, |(n, _)| num::float(*n));
    Ok(Worksheet::new("mean grain size", size, FILM)
        .also(other_name, nearest, NUMBER)
        .step("mean grain size", "from the table of the scale", size, FILM)
        .assumes("the two scales give different papers the same number; the scale is kept with the number"))
}

const FILM_U: Input = Input::amount(
    "film-u",
    "standard uncertainty of the film",
    FILM,
    (0.0, 500.0),
    "6 um",
);
const WEIGHT_SOLIDS: Input = Input::amount(
    "weight-solids",
    "solids by weight",
    SHARE,
    (0.0, 100.0),
    "23 %",
);
const LACQUER_DENSITY: Input = Input::amount(
    "density",
    "density of the lacquer",
    DENSITY,
    (0.5, 2.0),
    "0.9083 kg/L",
);
const BOTH: &str =
    "conservation of mass and volume; measured by ASTM D2697 (from memory, to be confirmed)";
const MODULUS: Measure = Measure::plain("GPa");

/// The worksheets of this subject.
pub static SHEETS: &[Sheet] = &[
    Sheet {
        id: "dry-film",
        purpose: "Dry film left by a wet film, with thinning and its uncertainty",
        source: SOLIDS_SOURCE,
        inputs: &[
            WET,
            SOLIDS,
            ADDED,
            OF_MIX,
            Input::amount("wet-u", "standard uncertainty of the wet reading", FILM, (0.0, 500.0), "5 um").or_unknown(),
            Input::amount("solids-u", "standard uncertainty of the solids, in points", SHARE, (0.0, 20.0), "1 %").or_unknown(),
            Input::amount("added-u", "standard uncertainty of the added thinner, in points", SHARE, (0.0, 100.0), "5 %").or_unknown(),
        ],
        compute: dry_film,
    },
    Sheet {
        id: "coat-film",
        purpose: "Dry film of one coat as the record keeps it, by the first figure that exists",
        source: "house rule: wet readings x solids of the mix, else the recipe's film for those solids (arithmetic)",
        inputs: &[
            Input::amount("wet", "wet film readings of the coat", FILM, (0.0, 5000.0), "[118 um,122 um]").or_unknown().list(1, 100),
            Input::amount("solids", "solids by volume of the mix as it is sprayed", SHARE, (0.0, 100.0), "12.5 %").or_unknown(),
            Input::amount("recipe-film", "dry film of one coat by the recipe; nothing for a touch-up", FILM, (0.0, 5000.0), "15 um").or("0 um"),
            Input::amount("recipe-solids", "solids by volume that the recipe's film is stated for", SHARE, (0.0, 100.0), "12.5 %").or_unknown(),
        ],
        compute: coat_film,
    },
    Sheet {
        id: "film-build",
        purpose: "A piece's film as the record keeps it: each coat, each sanding, and gauge readings in their order",
        source: "addition and subtraction (arithmetic); a gauge reading replaces all before it",
        inputs: &[
            Input::word("deed", "what each deed did to the film, in the order in which they happened", &["adds", "takes", "gauge"], "[adds,adds,takes]").list(1, 1000),
            Input::amount("film", "dry film that each deed added or took, or that the gauge read", FILM, (0.0, 5000.0), "[15 um,15 um,12 um]").list(1, 1000),
        ],
        compute: film_build,
    },
    Sheet {
        id: "wet-film-needed",
        purpose: "Wet film that leaves a wanted dry film",
        source: SOLIDS_SOURCE,
        inputs: &[
            Input::amount("dry", "wanted dry film of the coat", FILM, (0.0, 500.0), "25.4 um"),
            SOLIDS,
            ADDED,
            OF_MIX,
        ],
        compute: wet_film_needed,
    },
    Sheet {
        id: "film-from-volume",
        purpose: "Film from the volume sprayed, the area and the transfer efficiency",
        source: SOLIDS_SOURCE,
        inputs: &[
            Input::amount("volume", "volume that left the gun", CUP, (0.0, 20_000.0), "100 mL"),
            COATED,
            TRANSFER,
            SOLIDS,
            ADDED,
            OF_MIX,
        ],
        compute: film_from_volume,
    },
    Sheet {
        id: "spreading-rate",
        purpose: "Area that a volume covers at a dry film",
        source: "231 in3 in a US gallon: 1604.17 ft2 mil per gallon (arithmetic)",
        inputs: &[
            Input::amount("dry", "dry film", FILM, (0.1, 1000.0), "25.4 um"),
            SOLIDS,
            ADDED,
            OF_MIX,
            TRANSFER.or_unknown(),
        ],
        compute: spreading_rate,
    },
    Sheet {
        id: "volume-solids",
        purpose: "Volume solids from weight solids and the density of the dry film",
        source: BOTH,
        inputs: &[
            WEIGHT_SOLIDS,
            LACQUER_DENSITY,
            Input::amount("film-density", "density of the dry film", DENSITY, (0.8, 2.5), "1.229 kg/L"),
        ],
        compute: volume_solids,
    },
    Sheet {
        id: "volume-solids-by-solvent",
        purpose: "Volume solids from weight solids and the density of the volatile part",
        source: BOTH,
        inputs: &[
            WEIGHT_SOLIDS,
            LACQUER_DENSITY,
            Input::amount("solvent-density", "density of the volatile part", DENSITY, (0.5, 1.8), "0.843 kg/L"),
        ],
        compute: volume_solids_by_solvent,
    },
    Sheet {
        id: "coats-needed",
        purpose: "Coats that bring a film to its target",
        source: SOLIDS_SOURCE,
        inputs: &[
            Input::amount("target", "film wanted after all sanding", FILM, (0.0, 1000.0), "110 um"),
            Input::amount("wet", "wet film of a coat", FILM, (1.0, 1000.0), "60 um"),
            SOLIDS,
            ADDED,
            OF_MIX,
            Input::amount("so-far", "film that is there already", FILM, (0.0, 1000.0), "20 um").or("0 um"),
            Input::amount("removed", "film that sanding will still take", FILM, (0.0, 500.0), "12 um").or("0 um"),
        ],
        compute: coats,
    },
    Sheet {
        id: "film-after-sanding",
        purpose: "Film left after a sequence of sandings",
        source: "subtraction (arithmetic)",
        inputs: &[
            Input::amount("film", "film before sanding", FILM, (0.0, 1000.0), "110 um"),
            FILM_U.or("0 um"),
            Input::amount("removed", "film that each sanding takes", FILM, (0.0, 500.0), "[12 um,6 um,3 um]").list(1, 12),
            Input::amount("removed-spread", "standard uncertainty of a removal as a share of it (50 % from memory, to be confirmed)", SHARE, (0.0, 200.0), "50 %").or("50 %"),
            Input::amount("floor", "film that is to stay on the wood", FILM, (0.0, 1000.0), "40 um").or_unknown(),
        ],
        compute: after_sanding,
    },
    Sheet {
        id: "film-ledger",
        purpose: "A piece's film from its coats, cans and sandings, with its standard uncertainty",
        source: GUM,
        inputs: &[
            Input::amount("wet", "wet film of each coat", FILM, (0.0, 1000.0), "[100 um,100 um,100 um,100 um,100 um,100 um]").list(1, 40),
            Input::amount("wet-u", "standard uncertainty of a wet reading", FILM, (0.0, 500.0), "5 um").list(1, 40),
            Input::count("can", "which can each coat came from, counted from 1", (1, 12), "1").or("1").list(1, 40),
            Input::amount("solids", "solids by volume of each can before thinning", SHARE, (1.0, 100.0), "20 %").list(1, 12),
            Input::amount("solids-u", "standard uncertainty of the solids, in points", SHARE, (0.0, 20.0), "1 %").list(1, 12),
            Input::amount("added", "thinner added to each can, share of the lacquer", SHARE, (0.0, 400.0), "50 %").or("0 %").list(1, 12),
            Input::amount("added-u", "standard uncertainty of the added thinner, in points", SHARE, (0.0, 100.0), "5 %").or("0 %").list(1, 12),
            Input::amount("removed", "film that each sanding took", FILM, (0.0, 500.0), "12 um").or_unknown().list(1, 40),
            Input::amount("removed-u", "standard uncertainty of a removal", FILM, (0.0, 200.0), "3 um").or("3 um").list(1, 40),
        ],
        compute: ledger,
    },
    Sheet {
        id: "sand-through",
        purpose: "Chance of sanding through at one place",
        source: "normal law of the difference of two independent quantities (arithmetic)",
        inputs: &[
            Input::amount("film", "film before sanding", FILM, (0.0, 1000.0), "45 um"),
            FILM_U,
            Input::amount("removed", "film that the sanding takes", FILM, (0.0, 500.0), "20 um"),
            Input::amount("removed-u", "standard uncertainty of the removal", FILM, (0.0, 200.0), "5 um"),
            Input::amount("edge-factor", "how much more an edge loses than the face (from memory, to be confirmed)", NUMBER, (1.0, 10.0), "2.5").or("2.5"),
        ],
        compute: chance_of_sanding_through,
    },
    Sheet {
        id: "gauge-with-prediction",
        purpose: "A gauge reading weighed together with the predicted film",
        source: GUM,
        inputs: &[
            Input::amount("predicted", "film by the ledger", FILM, (0.0, 1000.0), "110 um"),
            Input::amount("predicted-u", "its standard uncertainty", FILM, (0.1, 500.0), "6 um"),
            Input::amount("gauge", "film as the gauge reads it", FILM, (0.0, 1000.0), "104 um"),
            Input::amount("gauge-u", "its standard uncertainty", FILM, (0.1, 500.0), "3 um"),
        ],
        compute: reading_with_prediction,
    },
    Sheet {
        id: "film-mass",
        purpose: "Mass that the film adds to a top",
        source: "film x area x density (arithmetic)",
        inputs: &[
            Input::amount("film", "dry film", FILM, (0.0, 1000.0), "100 um"),
            COATED,
            FILM_DENSITY,
            Input::amount("plate", "thickness of the plate", SIZE, (0.5, 60.0), "2.8 mm").or_unknown(),
            Input::amount("plate-density", "density of the wood", DENSITY, (0.2, 1.5), "0.42 kg/L").or_unknown(),
        ],
        compute: weight,
    },
    Sheet {
        id: "plate-frequency",
        purpose: "First-order change of a plate's bending frequency by the film",
        source: "first-order composite plate, film on one face (from memory, to be confirmed)",
        inputs: &[
            Input::amount("film", "dry film", FILM, (0.0, 500.0), "100 um"),
            Input::amount("plate", "thickness of the plate", SIZE, (1.0, 60.0), "2.8 mm"),
            FILM_DENSITY,
            Input::amount("plate-density", "density of the wood", DENSITY, (0.2, 1.5), "0.42 kg/L"),
            Input::amount("film-modulus", "modulus of the film (from memory, to be confirmed)", MODULUS, (0.01, 20.0), "2.5").or("2.5"),
            Input::amount("along-grain", "stiffness of the wood along the grain (from memory, to be confirmed)", MODULUS, (1.0, 40.0), "11").or("11"),
            Input::amount("across-grain", "stiffness of the wood across the grain (from memory, to be confirmed)", MODULUS, (0.05, 10.0), "0.8").or("0.8"),
        ],
        compute: plate_frequency,
    },
    Sheet {
        id: "grit",
        purpose: "Mean grain size of a sanding paper, by its scale",
        source: "FEPA P (ISO 6344) and CAMI grain sizes as listed in a public table, cited from a stored excerpt",
        inputs: &[
            Input::count("grit", "the number on the paper", (220, 2500), "600"),
            Input::word("scale", "the scale of the number", &["p", "cami"], "p"),
        ],
        compute: grit,
    },
];
