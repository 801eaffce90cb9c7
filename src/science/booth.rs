//! Booth air: face velocity, flow, duct velocity, filters, make-up air, purge, and what may share a booth.
//!
//! *Invariants*: a survey with too few readings is incomplete and never counts as held; the two US rules on face
//! velocity are answered apart and the stricter of them is named; a filter mark is counted from the clean reading,
//! and a reading below the clean one is flagged as well as one above the mark.
//!
//! *Not here*: exposure. Face velocity is about fire: it says nothing about what a person breathes.

mod sheets;

use uom::si::area::square_meter;
use uom::si::f64::{Area, Length, MassDensity, Pressure, Ratio, ThermodynamicTemperature, Time};
use uom::si::f64::{Velocity, Volume, VolumeRate};
use uom::si::length::meter;
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::time::second;
use uom::si::velocity::meter_per_second;
use uom::si::volume::cubic_meter;
use uom::si::volume_rate::cubic_meter_per_second;

use super::measure::{self, Quantity};
use super::validity::{Against, Outside, Range, against, range};
use super::worksheet::{Bound, Held};
use crate::units::num;

pub use sheets::{EARLIEST, LATEST, SHEETS};

/// Metres per second in one foot per minute, exact.
pub const FPM: f64 = 0.3048 / 60.0;
/// Pascals in one inch of water column, as in the units table.
pub const INCH_WATER: f64 = 249.088_91;
const FOOT2: f64 = 0.092_903_04;

const SPEED: Range = range(
    "air speed",
    "m/s",
    0.0,
    10.0,
    "above it this is no booth face",
);
const FACE: Range = range("open area", "m2", 0.01, 200.0, "a booth opening");
const FLOW: Range = range("air flow", "m3/s", 1.0e-6, 200.0, "a room's fan");
const ROOM: Range = range("volume", "m3", 0.001, 100_000.0, "a booth or a room");

/// A velocity in feet per minute.
pub fn fpm(value: f64) -> Velocity {
    Velocity::new::<meter_per_second>(value * FPM)
}

/// What a grid of readings over the booth's face gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FaceSurvey {
    /// The mean of all readings.
    pub average: Velocity,
    /// The lowest reading.
    pub lowest: Velocity,
    /// The highest reading.
    pub highest: Velocity,
    /// Lowest divided by average: 1 is perfectly even.
    pub uniformity: Ratio,
    /// How many readings there are.
    pub readings: usize,
    /// How many the grid asks for.
    pub wanted: usize,
}

impl FaceSurvey {
    /// Whether the grid is full. An incomplete survey is unknown, whatever its average.
    pub const fn complete(&self) -> bool {
        self.readings >= self.wanted
    }
}

/// The average, lowest, highest and evenness of the air at a booth's face.
///
/// Symbols: `v` readings, `n` their number, `wanted` the points of the grid. Valid for readings from 0 to 10 m/s.
/// Equation: `average = sum(v) / n`, `uniformity = lowest / average` (0 when all air stands still).
/// Source: definition; a grid of nine points and more is common practice. Accuracy: that of the instrument, often 3 %
/// and 0.03 m/s. It ignores direction: eddies read as flow.
pub fn face_survey(readings: &[Velocity], wanted: usize) -> Result<FaceSurvey, Outside> {
    const COUNT: Range = range(
        "number of readings",
        "1",
        1.0,
        1_000.0,
        "at least one reading",
    );
    COUNT.hold(num::count(readings.len()))?;
    let mut sum = 0.0;
    let (mut lowest, mut highest) = (f64::INFINITY, 0.0_f64);
    for reading in readings {
        let v = SPEED.hold(reading.get::<meter_per_second>())?;
        sum += v;
        lowest = lowest.min(v);
        highest = highest.max(v);
    }
    let average = sum / num::count(readings.len());
    Ok(FaceSurvey {
        average: Velocity::new::<meter_per_second>(average),
        lowest: Velocity::new::<meter_per_second>(lowest),
        highest: Velocity::new::<meter_per_second>(highest),
        uniformity: Ratio::new::<ratio>(if average > 0.0 { lowest / average } else { 0.0 }),
        readings: readings.len(),
        wanted,
    })
}

/// Holds a survey against the site's limit on its average, or on its lowest reading.
///
/// Source: comparison. An incomplete grid is unknown to the limit, whatever its figures are.
pub fn hold_survey(survey: &FaceSurvey, lowest: bool, limit: Option<Velocity>) -> Held {
    let (figure, of) = if lowest {
        (survey.lowest, "the site's limit on the lowest reading")
    } else {
        (survey.average, "the site's limit on the average")
    };
    Held::new(
        of,
        Bound::AtLeast,
        survey.complete().then(|| figure.to_base()),
        limit.map(Quantity::to_base),
        measure::SPEED,
    )
}

/// The air flow that a velocity over an open area needs.
///
/// Symbols: `A` open area, `v` average velocity. Valid for 0.01 to 200 m2 and 0 to 10 m/s.
/// Equation: `Q = A v`. Source: definition. It ignores leaks through other openings.
pub fn face_flow(open: Area, velocity: Velocity) -> Result<VolumeRate, Outside> {
    let area = FACE.hold(open.get::<square_meter>())?;
    let v = SPEED.hold(velocity.get::<meter_per_second>())?;
    Ok(VolumeRate::new::<cubic_meter_per_second>(area * v))
}

/// The flow that a ventilation design handbook gives for a walk-in booth: 100 cfm for each square foot of
/// cross-section, 50 where width times height exceeds 150 ft2.
///
/// Symbols: `W`, `H` inner width and height. Valid for 0.3 to 30 m each.
/// Equation: `Q = W H v`, `v` = 100 or 50 ft/min. Source: ACGIH Industrial Ventilation 1998, spray booth sheet, cited
/// from a stored excerpt. It is a design figure, not a rule.
pub fn handbook_flow(width: Length, height: Length) -> Result<VolumeRate, Outside> {
    const SIDE: Range = range("booth side", "m", 0.3, 30.0, "a walk-in booth");
    let area = SIDE.hold(width.get::<meter>())? * SIDE.hold(height.get::<meter>())?;
    let speed = match against(area, 150.0 * FOOT2) {
        Against::Over => 50.0,
        Against::At | Against::Under => 100.0,
    };
    Ok(VolumeRate::new::<cubic_meter_per_second>(
        area * speed * FPM,
    ))
}

/// How the work is sprayed, in the words of the table of booth velocities.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spraying {
    /// Electrostatic or automatic airless, nobody in the booth.
    ElectrostaticUnmanned,
    /// Air-operated guns, by hand or automatic.
    AirGuns,
}

/// Large or small: the table does not define them, so a person says which.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BoothSize {
    /// A large booth.
    Large,
    /// A small booth.
    Small,
}

/// One row of Table G-10 of 29 CFR 1910.94(c)(6)(i); velocities in ft/min.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct G10Row {
    /// How the work is sprayed.
    pub spraying: Spraying,
    /// The crossdraft up to which the row holds; 0 stands for "negligible".
    pub crossdraft_fpm: f64,
    /// Large or small.
    pub size: BoothSize,
    /// What to design for.
    pub design_fpm: f64,
    /// The lowest of the range that is taken as maintained.
    pub low_fpm: f64,
    /// The highest of that range; above it turbulence and overspray are worth a look.
    pub high_fpm: f64,
}

const fn g10(
    spraying: Spraying,
    crossdraft_fpm: f64,
    size: BoothSize,
    design_fpm: f64,
    low_fpm: f64,
    high_fpm: f64,
) -> G10Row {
    G10Row {
        spraying,
        crossdraft_fpm,
        size,
        design_fpm,
        low_fpm,
        high_fpm,
    }
}

/// Table G-10, cited from a stored excerpt of an identical state rule (WAC 296-62-11019); its span of 50 to 250 ft/min
/// also from a letter of interpretation.
pub static TABLE_G10: &[G10Row] = &[
    g10(
        Spraying::ElectrostaticUnmanned,
        0.0,
        BoothSize::Large,
        50.0,
        50.0,
        75.0,
    ),
    g10(
        Spraying::ElectrostaticUnmanned,
        0.0,
        BoothSize::Small,
        100.0,
        75.0,
        125.0,
    ),
    g10(
        Spraying::AirGuns,
        50.0,
        BoothSize::Large,
        100.0,
        75.0,
        125.0,
    ),
    g10(
        Spraying::AirGuns,
        50.0,
        BoothSize::Small,
        150.0,
        125.0,
        175.0,
    ),
    g10(
        Spraying::AirGuns,
        100.0,
        BoothSize::Large,
        150.0,
        125.0,
        175.0,
    ),
    g10(
        Spraying::AirGuns,
        100.0,
        BoothSize::Small,
        200.0,
        150.0,
        250.0,
    ),
];

/// A velocity held against Table G-10.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct G10Held {
    /// The row; none when the crossdraft is above every row's.
    pub row: Option<&'static G10Row>,
    /// The velocity against the row's lowest.
    pub low: Option<Against>,
    /// The velocity against the design figure; below it is advice only.
    pub design: Option<Against>,
    /// The velocity against the row's highest; above it is a hint of turbulence, not a breach.
    pub high: Option<Against>,
    /// The crossdraft is above 100 ft/min, which the table's note says should not be.
    pub crossdraft_over: bool,
}

/// Holds a face velocity against its row of Table G-10.
///
/// Symbols: `v` average face velocity, crossdraft measured with the fan off. Valid for 0 to 10 m/s.
/// Rule: the row with the smallest crossdraft that is not below the measured one; held is `v >= low`.
/// Source: 29 CFR 1910.94(c)(6)(i), Table G-10, cited from a stored excerpt of an identical state rule.
/// It ignores booth depth, and that "negligible" crossdraft for unmanned spraying is not defined.
pub fn hold_g10(
    velocity: Velocity,
    spraying: Spraying,
    size: BoothSize,
    crossdraft: Velocity,
) -> Result<G10Held, Outside> {
    let v = SPEED.hold(velocity.get::<meter_per_second>())? / FPM;
    let draft = SPEED.hold(crossdraft.get::<meter_per_second>())? / FPM;
    let over = against(draft, 100.0) == Against::Over;
    let row = TABLE_G10
        .iter()
        .filter(|row| !over && row.spraying == spraying && row.size == size)
        .find(|row| {
            spraying == Spraying::ElectrostaticUnmanned
                || against(draft, row.crossdraft_fpm) != Against::Over
        });
    Ok(G10Held {
        row,
        low: row.map(|row| against(v, row.low_fpm)),
        design: row.map(|row| against(v, row.design_fpm)),
        high: row.map(|row| against(v, row.high_fpm)),
        crossdraft_over: over,
    })
}

/// The average velocity over the open face that the fire rule asks of a dry-filter booth: 100 ft/min, or 60 when
/// spraying is electrostatic.
///
/// Source: 29 CFR 1910.107(b)(5)(i), cited from a stored excerpt of an identical state rule (WAC 296-24-37003) and
/// from letters of interpretation. Electrostatic work can need more, by volume and flammability.
/// It ignores waterwash booths and closed booths, for which no figure is given.
pub fn dry_booth_velocity(electrostatic: bool) -> Velocity {
    fpm(if electrostatic { 60.0 } else { 100.0 })
}

/// The velocity that satisfies both rules: the larger of the row's lowest and the fire rule's figure.
///
/// Source: as [`hold_g10`] and [`dry_booth_velocity`]. The two rules are separate; a booth at 80 ft/min can be within
/// one and below the other.
pub fn stricter_velocity(
    row: Option<&G10Row>,
    dry_filter: bool,
    electrostatic: bool,
) -> Option<Velocity> {
    let table = row.map(|row| fpm(row.low_fpm));
    let fire = dry_filter.then(|| dry_booth_velocity(electrostatic));
    match (table, fire) {
        (Some(a), Some(b)) => Some(a.max(b)),
        (a, b) => a.or(b),
    }
}

/// How heavy the air is, divided by standard air (0.075 lb/ft3: 70 F, 29.92 in of mercury).
///
/// Symbols: `T` air temperature, `p` air pressure. Valid from -40 to 200 C and 60 to 110 kPa.
/// Equation: `df = (530 / (T_F + 460)) (p / 29.92 inHg)`.
/// Source: ventilation design practice, from memory, to be confirmed. Accuracy: 0.1 % against the ideal gas.
/// It ignores humidity (about 1 % in a warm, damp room) and solvent vapour.
pub fn density_factor(t: ThermodynamicTemperature, pressure: Pressure) -> Result<Ratio, Outside> {
    const DUCT: Range = range(
        "duct air temperature",
        "K",
        233.15,
        473.15,
        "an exhaust duct",
    );
    const BAROMETER: Range = range(
        "air pressure",
        "Pa",
        60_000.0,
        110_000.0,
        "inhabited heights",
    );
    let rankine = DUCT.hold(t.get::<kelvin>())? * 1.8 - 459.67 + 460.0;
    let inches = BAROMETER.hold(pressure.get::<pascal>())? / 3_386.389;
    Ok(Ratio::new::<ratio>(530.0 / rankine * (inches / 29.92)))
}

/// The density of air at another temperature and the same pressure.
///
/// Symbols: `rho0` density at `T0`, `T` absolute temperatures. Valid from -40 to 200 C.
/// Equation: `rho = rho0 T0 / T`. Source: ideal gas. It ignores humidity.
pub fn density_at(
    known: MassDensity,
    at: ThermodynamicTemperature,
    wanted: ThermodynamicTemperature,
) -> Result<MassDensity, Outside> {
    const KELVIN: Range = range("temperature", "K", 233.15, 473.15, "an exhaust duct");
    const DENSITY: Range = range("air density", "kg/m3", 0.5, 2.0, "air");
    let rho = DENSITY.hold(known.get::<kilogram_per_cubic_meter>())?;
    let from = KELVIN.hold(at.get::<kelvin>())?;
    let to = KELVIN.hold(wanted.get::<kelvin>())?;
    Ok(MassDensity::new::<kilogram_per_cubic_meter>(
        rho * from / to,
    ))
}

const VELOCITY_PRESSURE: Range = range(
    "velocity pressure",
    "Pa",
    0.0,
    2_500.0,
    "a duct below 65 m/s; a negative reading is a reversed tube",
);

/// The air velocity in a duct from the velocity pressure of a pitot tube, corrected for the air's density.
///
/// Symbols: `VP` velocity pressure in in. w.c., `df` density factor (1 for standard air), `V` in ft/min.
/// Valid from 0 to 2500 Pa, density factor 0.5 to 1.5.
/// Equation: `V = 4005 sqrt(VP / df)`.
/// Source: ventilation practice with standard air of 0.075 lb/ft3, cited from a stored excerpt; the density correction
/// from memory, to be confirmed. Accuracy: 0.1 % against `sqrt(2 VP / rho)`.
/// In thin or hot air the true velocity is **higher** than the uncorrected one. It ignores the tube's own factor.
pub fn duct_velocity(velocity_pressure: Pressure, factor: Ratio) -> Result<Velocity, Outside> {
    const FACTOR: Range = range("density factor", "1", 0.5, 1.5, "air in a duct");
    let inches = VELOCITY_PRESSURE.hold(velocity_pressure.get::<pascal>())? / INCH_WATER;
    let factor = FACTOR.hold(factor.get::<ratio>())?;
    Ok(fpm(4_005.0 * (inches.max(0.0) / factor).sqrt()))
}

/// The average velocity of a duct traverse: the mean of the velocities, not the velocity of the mean pressure.
///
/// Symbols, validity and source as [`duct_velocity`]; at least one reading.
pub fn duct_traverse(readings: &[Pressure], factor: Ratio) -> Result<Velocity, Outside> {
    const COUNT: Range = range(
        "number of readings",
        "1",
        1.0,
        1_000.0,
        "at least one reading",
    );
    let count = COUNT.hold(num::count(readings.len()))?;
    let mut sum = 0.0;
    for reading in readings {
        sum += duct_velocity(*reading, factor)?.get::<meter_per_second>();
    }
    Ok(Velocity::new::<meter_per_second>(sum / count))
}

/// The air flow in a duct.
///
/// Symbols: `A` cross-section, `V` average velocity. Valid for 0.001 to 10 m2 and 0 to 80 m/s.
/// Equation: `Q = A V`. Source: definition, cited from a stored excerpt. It ignores leaks of the duct.
pub fn duct_flow(area: Area, velocity: Velocity) -> Result<VolumeRate, Outside> {
    const SECTION: Range = range("duct area", "m2", 0.001, 10.0, "an exhaust duct");
    const SPEED: Range = range("duct velocity", "m/s", 0.0, 80.0, "an exhaust duct");
    let a = SECTION.hold(area.get::<square_meter>())?;
    let v = SPEED.hold(velocity.get::<meter_per_second>())?;
    Ok(VolumeRate::new::<cubic_meter_per_second>(a * v))
}

/// The velocity from a velocity pressure and the air's density, in the SI form.
///
/// Symbols: `VP` in Pa, `rho` in kg/m3. Valid from 0 to 2500 Pa and 0.5 to 2 kg/m3.
/// Equation: `V = sqrt(2 VP / rho)`. Source: Bernoulli. It ignores the tube's own factor.
pub fn pitot_velocity(
    velocity_pressure: Pressure,
    density: MassDensity,
) -> Result<Velocity, Outside> {
    const DENSITY: Range = range("air density", "kg/m3", 0.5, 2.0, "air");
    let vp = VELOCITY_PRESSURE
        .hold(velocity_pressure.get::<pascal>())?
        .max(0.0);
    let rho = DENSITY.hold(density.get::<kilogram_per_cubic_meter>())?;
    Ok(Velocity::new::<meter_per_second>((2.0 * vp / rho).sqrt()))
}

const GAUGE: Range = range("filter gauge", "Pa", 0.0, 2_500.0, "a filter gauge's scale");

/// The gauge reading at which filters are changed.
///
/// Symbols: `clean` the reading at the last filter change, `rise` the rise that the shop allows. Valid 0 to 2500 Pa.
/// Equation: `mark = clean + rise`. Source: shop practice (a rise of 0.40 in. w.c. is a common one, from memory, to be
/// confirmed); the fan's and filter's own papers decide.
pub fn filter_mark(clean: Pressure, rise: Pressure) -> Result<Pressure, Outside> {
    let clean = GAUGE.hold(clean.get::<pascal>())?;
    Ok(Pressure::new::<pascal>(
        clean + GAUGE.hold(rise.get::<pascal>())?,
    ))
}

/// A filter gauge reading against the clean reading and the mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GaugeHeld {
    /// The reading against the clean reading; under it means a missing, torn or bypassed filter, or a failing fan.
    pub clean: Against,
    /// The reading against the mark.
    pub mark: Against,
    /// With the fan off the gauge did not return to zero; none when that was not looked at.
    pub zero_off: Option<bool>,
}

/// Holds a filter gauge reading against the clean reading and the mark.
///
/// Symbols: as [`filter_mark`]; `zero` the reading with the fan off. Valid 0 to 2500 Pa.
/// Rule: under the clean reading is flagged, at or over the mark asks for new filters, a fan-off reading other than
/// zero makes the others doubtful. Source: shop practice; 29 CFR 1910.107(b)(5) asks for a gauge or alarm.
pub fn hold_gauge(
    reading: Pressure,
    clean: Pressure,
    mark: Pressure,
    zero: Option<Pressure>,
) -> Result<GaugeHeld, Outside> {
    let value = GAUGE.hold(reading.get::<pascal>())?;
    let clean = GAUGE.hold(clean.get::<pascal>())?;
    let mark = GAUGE.hold(mark.get::<pascal>())?;
    Ok(GaugeHeld {
        clean: against(value, clean),
        mark: against(value, mark),
        // Half of the finest division of a common gauge (0.02 in. w.c.); less cannot be read.
        zero_off: zero.map(|z| z.get::<pascal>().abs() > 0.01 * INCH_WATER),
    })
}

/// How much of the exhausted air the make-up air gives back, and what is missing.
///
/// Symbols: `Qs` supply, `Qe` exhaust. Valid for a flow of 1e-6 to 200 m3/s (supply from 0).
/// Equation: `share = Qs / Qe`, `missing = Qe - Qs` (negative: too much supply).
/// Source: 29 CFR 1910.94(c)(7)(i) asks for a volume equal to the exhaust, cited from a stored excerpt.
/// It ignores leaks, which is where the missing air comes from.
pub fn make_up(supply: VolumeRate, exhaust: VolumeRate) -> Result<(Ratio, VolumeRate), Outside> {
    const SUPPLY: Range = range("supply air", "m3/s", 0.0, 200.0, "a room's fan");
    let supply = SUPPLY.hold(supply.get::<cubic_meter_per_second>())?;
    let exhaust = FLOW.hold(exhaust.get::<cubic_meter_per_second>())?;
    Ok((
        Ratio::new::<ratio>(supply / exhaust),
        VolumeRate::new::<cubic_meter_per_second>(exhaust - supply),
    ))
}

/// A fire-code purge: the longer of four air changes and three minutes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Purge {
    /// The time of four air changes.
    pub four_changes: Time,
    /// The longer of that and three minutes.
    pub time: Time,
}

/// The purge before drying apparatus is switched on in a booth.
///
/// Symbols: `V` booth volume, `Q` exhaust. Valid for 0.001 to 100 000 m3 and a flow above zero.
/// Equation: `t = max(4 V / Q, 3 min)`. Source: model fire code chapter 24, cited from a stored excerpt; the local code
/// in force decides. It ignores fresh work that goes on giving off vapour.
pub fn fire_code_purge(volume: Volume, exhaust: VolumeRate) -> Result<Purge, Outside> {
    let v = ROOM.hold(volume.get::<cubic_meter>())?;
    let q = FLOW.hold(exhaust.get::<cubic_meter_per_second>())?;
    let four = 4.0 * v / q;
    Ok(Purge {
        four_changes: Time::new::<second>(four),
        time: Time::new::<second>(four.max(180.0)),
    })
}

/// What a coating leaves behind in a booth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Residue {
    /// Nitrocellulose.
    Nitrocellulose,
    /// Drying oil, oil varnish or alkyd: heats itself.
    DryingOil,
    /// Anything else.
    Other,
}

/// Whether what is about to be sprayed meets a residue with which it may heat itself.
///
/// Rule: nitrocellulose and a drying oil, in either order, without a cleaning of booth, filters and ducts in between.
/// Source: 29 CFR 1910.107(g)(6), cited from a stored excerpt of an identical state rule (WAC 296-24-37013); 34 Pa.
/// Code 35.92 also bans alternating nitrocellulose lacquer with paint and varnish. It ignores what was not logged.
pub const fn residues_meet(last: Residue, next: Residue, cleaned_between: bool) -> bool {
    !cleaned_between
        && matches!(
            (last, next),
            (Residue::Nitrocellulose, Residue::DryingOil)
                | (Residue::DryingOil, Residue::Nitrocellulose)
        )
}

/// What speaks against one exhaust for several booths.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CommonExhaust {
    /// The combined open area against 18 ft2.
    pub area: Against,
    /// Nitrocellulose in a shared exhaust, which the model fire code rules out.
    pub nitrocellulose: bool,
    /// Different materials in one exhaust.
    pub different_materials: bool,
}

/// Holds several booths on one exhaust against the rules for it.
///
/// Symbols: `A` open area of each booth. Rule: sum of `A` not above 18 ft2, identical material, never nitrocellulose.
/// Source: 29 CFR 1910.107(d), cited from a stored excerpt of an identical state rule (WAC 296-24-37007); model fire
/// code chapter 24 for nitrocellulose, cited from a stored excerpt.
pub fn common_exhaust(
    open: &[Area],
    identical_material: bool,
    nitrocellulose: bool,
) -> Result<CommonExhaust, Outside> {
    let mut sum = 0.0;
    for area in open {
        sum += FACE.hold(area.get::<square_meter>())?;
    }
    Ok(CommonExhaust {
        area: against(sum, 18.0 * FOOT2),
        nitrocellulose,
        different_materials: !identical_material,
    })
}
