//! What goes out: facts as JSON for machines and as lines for people, from the same values.
//!
//! *Not here*: printing (commands), drawing (screens), and any query.

pub mod air;
pub mod alerts;
pub mod at_risk;
pub mod average_day;
pub mod book;
pub mod booth;
pub mod card;
pub mod cautions;
pub mod checks;
pub mod clock;
pub mod content;
pub mod counting;
pub mod day_list;
pub mod duties;
pub mod entries;
pub mod excursions;
pub mod forecast;
pub mod forms;
pub mod going_over;
pub mod hand_over;
pub mod life;
pub mod limits;
pub mod loggers;
pub mod lookout;
pub mod material;
pub mod months;
mod noted;
pub mod paper;
pub mod papers;
pub mod piece_json;
pub mod place;
pub mod plan;
pub mod quality;
pub mod racks;
pub mod ready;
pub mod receiving;
pub mod recipe;
pub mod rehearsal;
pub mod rules;
pub mod sheets;
pub mod stock;
pub mod stored;
pub mod sums;
pub mod tags;
pub mod tally;
pub mod thresholds;
pub mod together;
pub mod totals;
pub mod traveller;
pub mod vapours;
pub mod workings;

/// The words that go with every recipe time that is reached.
pub const CHECK_BY_HAND: &str = "recipe time reached, check by hand";
