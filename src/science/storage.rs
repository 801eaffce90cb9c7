//! Flammable liquids in store: the category of a liquid, and amounts held against the limits for cabinets and outside.
//!
//! *Invariants*: a category comes from flash and boiling point together; the older letter classes are not used; each
//! limit names its paragraph and whether it was read or remembered.
//!
//! *Not here*: what a shop may keep. The local fire code is often stricter and the fire code official decides.

mod sheets;

use uom::si::f64::{ThermodynamicTemperature, Volume};
use uom::si::thermodynamic_temperature::degree_celsius;
use uom::si::volume::cubic_meter;

use super::solvents::Standing;
use super::validity::{Against, Outside, Range, against, range};

pub use sheets::SHEETS;

const FLASH: Range = range("flash point", "C", -60.0, 300.0, "a liquid");
const BOILING: Range = range("boiling point", "C", -20.0, 500.0, "a liquid");
const AMOUNT: Range = range("volume", "m3", 0.0, 1_000.0, "a store");
const GALLON: f64 = 0.003_785_411_784;

/// The categories of flammable liquids.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Category {
    /// Flash below 73.4 F and boiling at or below 95 F.
    One,
    /// Flash below 73.4 F and boiling above 95 F.
    Two,
    /// Flash from 73.4 to 140 F.
    Three,
    /// Flash above 140 and up to 199.4 F.
    Four,
}

impl Category {
    /// The number of the category.
    pub const fn number(self) -> u8 {
        match self {
            Self::One => 1,
            Self::Two => 2,
            Self::Three => 3,
            Self::Four => 4,
        }
    }
}

/// The category of a liquid; none above a flash point of 199.4 F (93 C).
///
/// Symbols: flash point (closed cup) and boiling point. Without a boiling point a flash below 73.4 F counts as the
/// stricter category 1. Valid from -60 to 300 C.
/// Rule: 1 flash < 23 C and boiling <= 35 C; 2 flash < 23 C; 3 flash <= 60 C; 4 flash <= 93 C.
/// Source: 29 CFR 1910.106(a), cited from a stored excerpt. A liquid heated to within 30 F of its flash point is
/// treated as the next lower one, see [`category_when_heated`]. It ignores mixtures whose sheet gives no flash point.
pub fn category(
    flash: ThermodynamicTemperature,
    boiling: Option<ThermodynamicTemperature>,
) -> Result<Option<Category>, Outside> {
    let flash = FLASH.hold(flash.get::<degree_celsius>())?;
    let low_boiling = match boiling {
        Some(point) => against(BOILING.hold(point.get::<degree_celsius>())?, 35.0) != Against::Over,
        None => true,
    };
    // Kelvin differences: a flash of 73.4 F must come out as exactly 23 C and not a hair below it.
    let at_most = |limit: f64| against(flash + 273.15, limit + 273.15) != Against::Over;
    let below = |limit: f64| against(flash + 273.15, limit + 273.15) == Against::Under;
    Ok(if below(23.0) {
        Some(if low_boiling {
            Category::One
        } else {
            Category::Two
        })
    } else if at_most(60.0) {
        Some(Category::Three)
    } else if at_most(93.0) {
        Some(Category::Four)
    } else {
        None
    })
}

/// What a liquid counts as when it is used hot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Heated {
    /// Nothing changes.
    AsItIs,
    /// A category 3 liquid with a flash of 100 F and more counts as one below 100 F.
    AsFlashBelow100F,
    /// A category 4 liquid counts as category 3 with a flash of 100 F and more.
    AsCategoryThree,
}

/// What a liquid counts as at the temperature at which it is used.
///
/// Symbols: flash point and use temperature. Rule: used within 30 F (16.7 K) of the flash point or hotter, category 3
/// with a flash of 100 F and more counts as below 100 F, category 4 as category 3.
/// Source: 29 CFR 1910.106(a), cited from a stored excerpt.
pub fn category_when_heated(
    flash: ThermodynamicTemperature,
    used_at: ThermodynamicTemperature,
) -> Result<Heated, Outside> {
    let point = FLASH.hold(flash.get::<degree_celsius>())?;
    let hot = FLASH.hold(used_at.get::<degree_celsius>())?;
    let near = hot + 30.0 / 1.8 >= point - 1.0e-9;
    // 100 F in C.
    let flash_100_f = 68.0 / 1.8;
    Ok(match category(flash, None)? {
        Some(Category::Three) if near && point >= flash_100_f - 1.0e-9 => Heated::AsFlashBelow100F,
        Some(Category::Four) if near => Heated::AsCategoryThree,
        _ => Heated::AsItIs,
    })
}

/// How much of each group of categories stands in a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stock {
    /// Category 1.
    pub one: Volume,
    /// Category 2.
    pub two: Volume,
    /// Category 3.
    pub three: Volume,
    /// Category 4.
    pub four: Volume,
}

/// One amount held against one limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// What is held, in words.
    pub what: &'static str,
    /// The amount.
    pub amount: Volume,
    /// The limit.
    pub limit: Volume,
    /// On which side it lies.
    pub side: Against,
    /// The paragraph.
    pub source: &'static str,
    /// Whether the limit was read or remembered.
    pub standing: Standing,
}

struct Gallons {
    one: f64,
    two: f64,
    three: f64,
    four: f64,
}

impl Stock {
    fn gallons(&self) -> Result<Gallons, Outside> {
        let read = |v: Volume| AMOUNT.hold(v.get::<cubic_meter>()).map(|v| v / GALLON);
        Ok(Gallons {
            one: read(self.one)?,
            two: read(self.two)?,
            three: read(self.three)?,
            four: read(self.four)?,
        })
    }
}

fn held(
    what: &'static str,
    amount: f64,
    limit: f64,
    source: &'static str,
    standing: Standing,
) -> Held {
    Held {
        what,
        amount: Volume::new::<cubic_meter>(amount * GALLON),
        limit: Volume::new::<cubic_meter>(limit * GALLON),
        side: against(amount, limit),
        source,
        standing,
    }
}

/// Holds what stands in one cabinet against the federal limits: 60 gal of categories 1 to 3, 120 gal of category 4.
///
/// Source: 29 CFR 1910.106(d)(3)(i), cited from a stored excerpt. That paragraph sets no number of cabinets (from
/// memory, to be confirmed); the construction rule, California and older editions of NFPA 30 say three in a fire area.
pub fn hold_cabinet(stock: &Stock) -> Result<Vec<Held>, Outside> {
    let g = stock.gallons()?;
    let source = "29 CFR 1910.106(d)(3)(i)";
    Ok(vec![
        held(
            "categories 1 to 3 in one cabinet",
            g.one + g.two + g.three,
            60.0,
            source,
            Standing::Cited,
        ),
        held(
            "category 4 in one cabinet",
            g.four,
            120.0,
            source,
            Standing::Cited,
        ),
    ])
}

/// Holds what stands in one cabinet against California's limits: 120 gal of all, of which 60 gal of categories 1 to 3.
///
/// Source: California Title 8, 5533, cited from a stored excerpt.
pub fn hold_cabinet_california(stock: &Stock) -> Result<Vec<Held>, Outside> {
    let g = stock.gallons()?;
    let source = "California Title 8, 5533";
    let flammable = g.one + g.two + g.three;
    Ok(vec![
        held(
            "categories 1 to 3 in one cabinet",
            flammable,
            60.0,
            source,
            Standing::Cited,
        ),
        held(
            "all categories in one cabinet",
            flammable + g.four,
            120.0,
            source,
            Standing::Cited,
        ),
    ])
}

/// Holds what stands outside cabinets and storage rooms in one fire area: 25 gal of category 1 and 120 gal of
/// categories 2 to 4 in containers. The two are held apart, not pooled.
///
/// Source: 29 CFR 1910.106(e)(2)(ii)(b), cited from a letter of interpretation in older class names.
pub fn hold_outside_cabinet(stock: &Stock) -> Result<Vec<Held>, Outside> {
    let g = stock.gallons()?;
    let source = "29 CFR 1910.106(e)(2)(ii)(b)";
    Ok(vec![
        held(
            "category 1 in containers outside a cabinet",
            g.one,
            25.0,
            source,
            Standing::Cited,
        ),
        held(
            "categories 2 to 4 in containers outside a cabinet",
            g.two + g.three + g.four,
            120.0,
            source,
            Standing::Cited,
        ),
    ])
}

/// The number of full-size cabinets in one fire area that three rules name.
///
/// Source: 29 CFR 1926.152 (construction, cited from a letter of interpretation) and California Title 8, 5533 (cited from
/// a stored excerpt). It is **not** in 29 CFR 1910.106 (from memory, to be confirmed); the local fire code decides.
pub const CABINETS_IN_A_FIRE_AREA: u8 = 3;
