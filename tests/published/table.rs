//! Reading the tables, comparing with a tolerance, and short ways to write quantities.

use std::collections::HashMap;

use uom::si::f64::*;
use uom::si::{
    area, length, mass, mass_density, molar_energy, molar_mass, molar_volume, pressure, ratio,
    temperature_interval, thermodynamic_temperature, time, velocity, volume, volume_rate,
};

pub type Row = HashMap<String, String>;

pub fn path(file: &str) -> String {
    format!("{}/tests/published/data/{file}", env!("CARGO_MANIFEST_DIR"))
}

pub fn rows(file: &str) -> Vec<Row> {
    let mut reader = csv::Reader::from_path(path(file)).unwrap();
    reader.deserialize().map(Result::unwrap).collect()
}

pub fn num(row: &Row, column: &str) -> f64 {
    row[column]
        .parse()
        .unwrap_or_else(|_| panic!("{column} is {:?}", row[column]))
}

#[track_caller]
pub fn near(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, published {want}, apart {}, allowed {tolerance}",
        (got - want).abs()
    );
}

#[track_caller]
pub fn near_rel(got: f64, want: f64, tolerance: f64) {
    near(got, want, tolerance * want.abs());
}

pub const GAL: f64 = 0.003_785_411_784;
pub const FT3: f64 = 0.028_316_846_592;
pub const LB: f64 = 0.453_592_37;

pub fn c(v: f64) -> ThermodynamicTemperature {
    ThermodynamicTemperature::new::<thermodynamic_temperature::degree_celsius>(v)
}
pub fn f(v: f64) -> ThermodynamicTemperature {
    ThermodynamicTemperature::new::<thermodynamic_temperature::degree_fahrenheit>(v)
}
pub fn in_c(t: ThermodynamicTemperature) -> f64 {
    t.get::<thermodynamic_temperature::degree_celsius>()
}
pub fn kelvins(v: f64) -> TemperatureInterval {
    TemperatureInterval::new::<temperature_interval::kelvin>(v)
}
pub fn in_k(t: TemperatureInterval) -> f64 {
    t.get::<temperature_interval::kelvin>()
}
pub fn pct(v: f64) -> Ratio {
    Ratio::new::<ratio::percent>(v)
}
pub fn in_pct(r: Ratio) -> f64 {
    r.get::<ratio::percent>()
}
pub fn share(v: f64) -> Ratio {
    Ratio::new::<ratio::ratio>(v)
}
pub fn in_share(r: Ratio) -> f64 {
    r.get::<ratio::ratio>()
}
pub fn ppm(v: f64) -> Ratio {
    Ratio::new::<ratio::part_per_million>(v)
}
pub fn in_ppm(r: Ratio) -> f64 {
    r.get::<ratio::part_per_million>()
}
pub fn pa(v: f64) -> Pressure {
    Pressure::new::<pressure::pascal>(v)
}
pub fn in_pa(p: Pressure) -> f64 {
    p.get::<pressure::pascal>()
}
pub fn inch_water(v: f64) -> Pressure {
    pa(v * hangtime::science::booth::INCH_WATER)
}
pub fn kg_m3(v: f64) -> MassDensity {
    MassDensity::new::<mass_density::kilogram_per_cubic_meter>(v)
}
pub fn in_kg_m3(d: MassDensity) -> f64 {
    d.get::<mass_density::kilogram_per_cubic_meter>()
}
pub fn lb_gal(v: f64) -> MassDensity {
    kg_m3(v * hangtime::science::voc::LB_PER_GAL)
}
pub fn in_lb_gal(d: MassDensity) -> f64 {
    in_kg_m3(d) / hangtime::science::voc::LB_PER_GAL
}
pub fn g_mol(v: f64) -> MolarMass {
    MolarMass::new::<molar_mass::kilogram_per_mole>(v / 1_000.0)
}
pub fn gal(v: f64) -> Volume {
    m3(v * GAL)
}
pub fn in_gal(v: Volume) -> f64 {
    in_m3(v) / GAL
}
pub fn ft3(v: f64) -> Volume {
    m3(v * FT3)
}
pub fn in_ft3(v: Volume) -> f64 {
    in_m3(v) / FT3
}
pub fn m3(v: f64) -> Volume {
    Volume::new::<volume::cubic_meter>(v)
}
pub fn in_m3(v: Volume) -> f64 {
    v.get::<volume::cubic_meter>()
}
pub fn litre(v: f64) -> Volume {
    m3(v / 1_000.0)
}
pub fn kg(v: f64) -> Mass {
    Mass::new::<mass::kilogram>(v)
}
pub fn in_kg(m: Mass) -> f64 {
    m.get::<mass::kilogram>()
}
pub fn lb(v: f64) -> Mass {
    kg(v * LB)
}
pub fn in_lb(m: Mass) -> f64 {
    in_kg(m) / LB
}
pub fn tons(v: f64) -> Mass {
    kg(v * hangtime::science::voc::SHORT_TON)
}
pub fn m3_s(v: f64) -> VolumeRate {
    VolumeRate::new::<volume_rate::cubic_meter_per_second>(v)
}
pub fn in_m3_s(q: VolumeRate) -> f64 {
    q.get::<volume_rate::cubic_meter_per_second>()
}
pub fn m3_h(v: f64) -> VolumeRate {
    m3_s(v / 3_600.0)
}
pub fn in_m3_h(q: VolumeRate) -> f64 {
    in_m3_s(q) * 3_600.0
}
pub fn cfm(v: f64) -> VolumeRate {
    m3_s(v * FT3 / 60.0)
}
pub fn in_cfm(q: VolumeRate) -> f64 {
    in_m3_s(q) * 60.0 / FT3
}
pub fn gal_h(v: f64) -> VolumeRate {
    m3_s(v * GAL / 3_600.0)
}
pub fn pint_h(v: f64) -> VolumeRate {
    gal_h(v / 8.0)
}
pub fn hours(v: f64) -> Time {
    Time::new::<time::second>(v * 3_600.0)
}
pub fn minutes(v: f64) -> Time {
    Time::new::<time::second>(v * 60.0)
}
pub fn in_min(t: Time) -> f64 {
    t.get::<time::second>() / 60.0
}
pub fn fpm(v: f64) -> Velocity {
    Velocity::new::<velocity::meter_per_second>(v * 0.3048 / 60.0)
}
pub fn in_fpm(v: Velocity) -> f64 {
    v.get::<velocity::meter_per_second>() / (0.3048 / 60.0)
}
pub fn m_s(v: f64) -> Velocity {
    Velocity::new::<velocity::meter_per_second>(v)
}
pub fn m2(v: f64) -> Area {
    Area::new::<area::square_meter>(v)
}
pub fn ft2(v: f64) -> Area {
    m2(v * 0.092_903_04)
}
pub fn metres(v: f64) -> Length {
    Length::new::<length::meter>(v)
}
pub fn in_metres(l: Length) -> f64 {
    l.get::<length::meter>()
}
pub fn kj_mol(v: f64) -> MolarEnergy {
    MolarEnergy::new::<molar_energy::joule_per_mole>(v * 1_000.0)
}
pub fn kcal_mol(v: f64) -> MolarEnergy {
    MolarEnergy::new::<molar_energy::joule_per_mole>(v * 4_184.0)
}
pub fn in_kcal_mol(v: MolarEnergy) -> f64 {
    v.get::<molar_energy::joule_per_mole>() / 4_184.0
}
pub fn in_l_mol(v: MolarVolume) -> f64 {
    v.get::<molar_volume::cubic_meter_per_mole>() * 1_000.0
}
