//! What stands at each place, by category of flammable liquid, and the caps that the shop entered for it.
//!
//! *Invariants*: a liquid whose category or amount is unknown is never taken for one that a cap has not: where such a one
//! could carry a figure over a cap, the figure is unknown. A published figure is shown and holds nothing.
//!
//! *Not here*: what a shop may keep; the local fire code is often stricter, and its official decides.

use crate::ledger::{CeilingRow, DrumRow, Ledger, LedgerError, StockRow};
use crate::science::measure::CAN;
use crate::science::storage::{Category, category};
use crate::science::worksheet::{Bound, Held, Quantity};
use crate::shop::text::shown;
use crate::units::{Amount, Moment, Temperature, Volume, num};
use std::collections::BTreeMap;
use uom::si::f64::ThermodynamicTemperature;

/// How the name begins under which the highest volume of a class that may stand at a place is entered.
const STORED: &str = "volume stored, ";

/// The scope of a cap for every place that has none of its own.
pub const ALL_PLACES: &str = "all places";

/// The liquids that a cap counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Class {
    /// Every liquid, flammable or not.
    Liquids,
    /// Category 1.
    One,
    /// Categories 1 to 3.
    OneToThree,
    /// Categories 2 to 4.
    TwoToFour,
    /// Category 4.
    Four,
}

impl Class {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Liquids,
        Self::One,
        Self::OneToThree,
        Self::TwoToFour,
        Self::Four,
    ];

    /// Its words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Liquids => "all liquids",
            Self::One => "category 1",
            Self::OneToThree => "categories 1 to 3",
            Self::TwoToFour => "categories 2 to 4",
            Self::Four => "category 4",
        }
    }

    /// The class of these words.
    pub fn from_words(words: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|c| c.words() == words.trim())
    }

    /// The name under which its cap is entered: each class has one of its own at a place.
    pub fn limit(self) -> String {
        format!("{STORED}{}", self.words())
    }

    /// All words, for a message.
    pub fn choices() -> String {
        Self::ALL.map(Self::words).join(", ")
    }

    // Whether it counts a liquid of a category; none is above the highest flash point of the categories.
    const fn counts(self, category: Option<Category>) -> bool {
        match (self, category) {
            (Self::Liquids, _) => true,
            (_, None) => false,
            (Self::One, Some(c)) => matches!(c, Category::One),
            (Self::OneToThree, Some(c)) => !matches!(c, Category::Four),
            (Self::TwoToFour, Some(c)) => !matches!(c, Category::One),
            (Self::Four, Some(c)) => matches!(c, Category::Four),
        }
    }
}

/// What is known of the category of a liquid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Known {
    /// By its flash point; no boiling point stands on a sheet, so that a low one counts as category 1, the stricter.
    By(Temperature, Option<Category>),
    /// No flash point is entered.
    Unknown,
}

/// A lot or a waste drum at a place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Liquid {
    /// The lot and its material, or the drum.
    pub name: String,
    /// The lot; none of a waste drum.
    pub lot: Option<String>,
    /// How much; none where the record cannot tell.
    pub volume: Option<Volume>,
    /// Its category.
    pub known: Known,
}

/// What stands at one place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The place.
    pub place: String,
    /// Its liquids.
    pub liquids: Vec<Liquid>,
}

/// The places at which something stands by the record, as of `at`, and those that have a cap; by name.
pub fn places(
    ledger: &Ledger,
    limits: &[CeilingRow],
    at: Moment,
) -> Result<Vec<Place>, LedgerError> {
    let mut found: BTreeMap<String, Vec<Liquid>> = BTreeMap::new();
    for row in ledger.stock(Some(ledger.calendar().day(at)))? {
        if row.level().0 != 0 {
            let liquid = of_lot(ledger, &row)?;
            found.entry(row.place).or_default().push(liquid);
        }
    }
    for drum in ledger.drums(at)? {
        if let (None, Some(place)) = (&drum.shipped, &drum.place) {
            let liquids = found.entry(place.clone()).or_default();
            liquids.push(of_drum(&drum));
        }
    }
    let capped = limits.iter().filter(|l| l.what.starts_with(STORED));
    for l in capped.filter(|l| l.scope != ALL_PLACES) {
        found.entry(l.scope.clone()).or_default();
    }
    let of = |(place, liquids)| Place { place, liquids };
    Ok(found.into_iter().map(of).collect())
}

fn of_lot(ledger: &Ledger, row: &StockRow) -> Result<Liquid, LedgerError> {
    let flash = ledger.lot_material(&row.lot)?.flash_point;
    let known = flash.and_then(|flash| {
        let point = ThermodynamicTemperature::of_base(flash.base());
        Some(Known::By(flash, category(point, None).ok()?))
    });
    Ok(Liquid {
        name: format!("lot {} of {}", shown(&row.lot), shown(&row.material)),
        lot: Some(row.lot.clone()),
        volume: Some(row.level()).filter(|v| v.0 >= 0),
        known: known.unwrap_or(Known::Unknown),
    })
}

// What goes into a drum by weight has no volume in the record.
fn of_drum(drum: &DrumRow) -> Liquid {
    Liquid {
        name: format!("waste drum {}", shown(&drum.drum)),
        lot: None,
        volume: Some(drum.volume).filter(|_| drum.mass.0 == 0),
        known: Known::Unknown,
    }
}

impl Place {
    /// The volume of a class that is known.
    pub fn known(&self, class: Class) -> Volume {
        let counted = self.liquids.iter().filter(|l| match l.known {
            Known::By(_, category) => class.counts(category),
            Known::Unknown => class == Class::Liquids,
        });
        Volume(counted.filter_map(|l| l.volume).map(|v| v.0).sum())
    }

    /// Whether that is all of it: no liquid that may belong to the class lacks its category or amount.
    pub fn whole(&self, class: Class) -> bool {
        !self.liquids.iter().any(|l| match l.known {
            Known::By(_, category) => class.counts(category) && l.volume.is_none(),
            Known::Unknown => {
                l.volume.is_none() || (class != Class::Liquids && l.volume != Some(Volume(0)))
            }
        })
    }

    /// The caps that hold for it, each class once: its own, else the one of all places.
    pub fn caps<'a>(&self, limits: &'a [CeilingRow]) -> Vec<(Class, &'a CeilingRow)> {
        let of = |class: Class, scope: &str| {
            let what = class.limit();
            limits.iter().find(|l| l.what == what && l.scope == scope)
        };
        let each = Class::ALL.into_iter();
        each.filter_map(|class| {
            let cap = of(class, &self.place).or_else(|| of(class, ALL_PLACES))?;
            Some((class, cap))
        })
        .collect()
    }

    /// Its volumes held against its caps. A known part that is over is over, whatever is unknown.
    pub fn held(&self, limits: &[CeilingRow]) -> Vec<Held> {
        let caps = self.caps(limits);
        let one = |(class, cap): (Class, &CeilingRow)| {
            let known = self.known(class);
            let figure = Some(known).filter(|v| self.whole(class) || v.0 > cap.value);
            Held::new(
                &format!(
                    "{} at {} (entry {}, cap of {}, entered by {}, source: {})",
                    class.words(),
                    shown(&self.place),
                    cap.entry,
                    shown(&cap.scope),
                    shown(&cap.person),
                    shown(&cap.source)
                ),
                Bound::AtMost,
                figure.map(Amount::base),
                Some(Volume(cap.value).base()),
                CAN,
            )
        };
        caps.into_iter().map(one).collect()
    }

    /// Cubic metres of one category, as the published figures are held.
    pub fn cubic_metres(&self, wanted: Category) -> f64 {
        let of = |l: &&Liquid| matches!(l.known, Known::By(_, Some(c)) if c == wanted);
        let sum: i64 = self
            .liquids
            .iter()
            .filter(of)
            .filter_map(|l| l.volume)
            .map(|v| v.0)
            .sum();
        num::float(sum) / 1e9
    }
}
