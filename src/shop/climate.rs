//! What the rooms' air was, and how much cure it earned.
//!
//! *Invariants*: credit is counted in whole thousandths of a millisecond, so that two ways of summing it agree
//! exactly; a reading holds until the next one, for at most [`holds_for`]; a longer gap earns nothing and is
//! *unknown*; what lies after the newest reading is a *forecast*; a room without readings is *assumed* slow. Credit
//! never runs faster than the recipe's policy says.
//!
//! *Not here*: reading logger files.

use super::recipe::CreditPolicy;
use crate::units::{Humidity, Moment, Span, Temperature};
use std::collections::BTreeMap;

/// One reading of a room.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sample {
    /// When.
    pub at: Moment,
    /// Air temperature.
    pub temperature: Temperature,
    /// Relative humidity, where the logger has it.
    pub humidity: Option<Humidity>,
}

/// What is known of a room's air.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RoomAir {
    /// Sampling interval of a logged room; `None` for a room that is declared as unlogged.
    pub interval: Option<Span>,
    /// Thousandths of an hour that an hour after the newest reading is expected to count.
    pub forecast_permille: i64,
    /// Readings in order of time.
    pub samples: Vec<Sample>,
}

/// How long a reading may stand for the air: two sampling intervals, at least half an hour.
pub fn holds_for(interval: Span) -> Span {
    Span((interval.0 * 2).max(Span::minutes(30).0))
}

/// The air of all rooms.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Climate {
    /// Rooms by name.
    pub rooms: BTreeMap<String, RoomAir>,
}

/// A stay of a piece: from this moment on it hung there.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Stay {
    /// Since when.
    pub from: Moment,
    /// The rack, if it hung on one.
    pub rack: Option<String>,
    /// The hook of the rack.
    pub hook: Option<u32>,
    /// The room, if one was named.
    pub room: Option<String>,
}

/// Credited cure at a moment, and when the wanted credit is reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Credited {
    /// Credit earned by then.
    pub earned: Span,
    /// Clock time within gaps of the readings, or with readings that lack a humidity which the law needs: it earned
    /// nothing and may still earn.
    pub unknown: Span,
    /// When the wanted credit is reached, rounded up to the minute; `None` when it is not in sight.
    pub reached: Option<Moment>,
    /// Whether `reached` rests on a forecast or on a gap.
    pub provisional: bool,
    /// Whether a part was counted in a room without readings, by the recipe's slow factor.
    pub assumed: bool,
}

// One stretch of even credit: from `at`, with what was earned before it.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    at: Moment,
    earned: i64,
    unknown: i64,
    permille: i64,
    known: Known,
}

// Whether the credit of a stretch is known, and what is missing where it is not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Known {
    Yes,
    NoReading,
    NoHumidity,
}

/// The running credit of one room under one policy. Built once, asked many times.
#[derive(Debug, Clone)]
pub struct CreditTable {
    stretches: Vec<Stretch>,
    newest: Option<Moment>,
    assumed: bool,
}

impl CreditTable {
    /// Sums the credit of a room from its first reading on.
    pub fn build(air: Option<&RoomAir>, policy: &CreditPolicy) -> Self {
        let Some((air, interval)) = air.and_then(|a| a.interval.map(|i| (a, i))) else {
            let even = Stretch {
                at: Moment(i64::MIN / 4),
                earned: 0,
                unknown: 0,
                permille: policy.unlogged_permille,
                known: Known::Yes,
            };
            return Self {
                stretches: vec![even],
                newest: None,
                assumed: true,
            };
        };
        let hold = holds_for(interval);
        let mut stretches = Vec::with_capacity(air.samples.len() + 1);
        stretches.push(Stretch {
            at: Moment(i64::MIN / 4),
            earned: 0,
            unknown: 0,
            permille: 0,
            known: Known::NoReading,
        });
        let mut earned = 0;
        let mut unknown = 0;
        let mut samples = air.samples.iter().peekable();
        while let Some(sample) = samples.next() {
            let (permille, known) = match samples.peek() {
                // A law that needs a humidity earns nothing where none was read, and says so.
                Some(next) if next.at.since(sample.at) <= hold => {
                    match policy.permille(sample.temperature, sample.humidity) {
                        Some(credit) => (credit, Known::Yes),
                        None => (0, Known::NoHumidity),
                    }
                }
                Some(_) => (0, Known::NoReading),
                None => (air.forecast_permille, Known::Yes),
            };
            // Neighbours that earn alike are one; the newest reading stands alone, for what is forecast begins with it.
            let goes_on = stretches.len() > 1
                && samples.peek().is_some()
                && stretches
                    .last()
                    .is_some_and(|s: &Stretch| s.permille == permille && s.known == known);
            if !goes_on {
                stretches.push(Stretch {
                    at: sample.at,
                    earned,
                    unknown,
                    permille,
                    known,
                });
            }
            if let Some(next) = samples.peek() {
                let length = next.at.since(sample.at).0;
                earned += length * permille;
                unknown += if known == Known::Yes { 0 } else { length };
            }
        }
        Self {
            stretches,
            newest: air.samples.last().map(|s| s.at),
            assumed: false,
        }
    }

    fn stretch(&self, at: Moment) -> usize {
        self.stretches
            .partition_point(|s| s.at <= at)
            .saturating_sub(1)
    }

    fn known_by(&self, stretch: &Stretch) -> KnownBy {
        if self.assumed {
            KnownBy::Assumed
        } else if stretch.known == Known::NoReading {
            KnownBy::Gap
        } else if stretch.known == Known::NoHumidity {
            KnownBy::NoHumidity
        } else if self.newest.is_some_and(|newest| stretch.at >= newest) {
            KnownBy::Forecast
        } else {
            KnownBy::Reading
        }
    }

    // Credit in thousandths of a millisecond and unknown milliseconds, counted from the table's own beginning. Only
    // differences mean anything.
    fn at(&self, at: Moment) -> (i128, i128) {
        self.stretches.get(self.stretch(at)).map_or((0, 0), |s| {
            let length = i128::from(at.0) - i128::from(s.at.0);
            (
                i128::from(s.earned) + length * i128::from(s.permille),
                i128::from(s.unknown) + if s.known == Known::Yes { 0 } else { length },
            )
        })
    }

    /// Credit in thousandths of a millisecond, and unknown milliseconds, of a stretch of time.
    pub(super) fn between(&self, from: Moment, to: Moment) -> (i128, i128) {
        let (a, b) = (self.at(from), self.at(to));
        (b.0 - a.0, b.1 - a.1)
    }

    /// The same room with other expectations from its newest reading on: from each moment what an hour counts, in
    /// thousandths, until the next one. A room without readings has none.
    #[must_use]
    pub fn with_ahead(&self, steps: &[(Moment, i64)]) -> Self {
        let mut out = self.clone();
        let last = out.stretches.pop().filter(|_| !steps.is_empty());
        let (Some(last), Some(_)) = (last, self.newest) else {
            return self.clone();
        };
        let mut earned = last.earned;
        let ends = steps
            .iter()
            .skip(1)
            .map(|(from, _)| Some(*from))
            .chain([None]);
        for ((from, permille), end) in steps.iter().zip(ends) {
            let at = last.at.max(*from);
            out.stretches.push(Stretch {
                at,
                earned,
                permille: *permille,
                ..last
            });
            earned += end.map_or(0, |end| end.since(at).0.max(0) * permille);
        }
        out
    }

    // The first moment from `from` on at which `wanted` more is earned, no later than `end`.
    fn reach(&self, from: Moment, end: Option<Moment>, wanted: i128) -> Option<Moment> {
        let goal = self.at(from).0 + wanted;
        let first = self.stretch(from);
        let until = end.unwrap_or(Moment(i64::MAX / 4));
        let rest = self.stretches.get(first..)?;
        // Credit never falls, so the stretch that reaches the goal can be looked up by halving.
        let offset = rest
            .partition_point(|s| i128::from(s.earned) < goal || s.at <= from)
            .saturating_sub(1);
        let s = rest.get(offset)?;
        let missing = goal - i128::from(s.earned);
        if s.permille <= 0 {
            return (missing <= 0)
                .then_some(from.max(s.at))
                .filter(|m| *m <= until);
        }
        let permille = i128::from(s.permille);
        let steps = missing.div_euclid(permille) + i128::from(missing.rem_euclid(permille) > 0);
        let at = i64::try_from(i128::from(s.at.0) + steps).ok()?;
        Some(Moment(at).max(from)).filter(|m| *m <= until)
    }
}

/// What the credit of a stretch of time rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KnownBy {
    /// A reading of the room.
    Reading,
    /// A gap of the readings: nothing is earned.
    Gap,
    /// A reading without the humidity that the recipe's law needs: nothing is earned.
    NoHumidity,
    /// The recipe's factor for rooms without readings.
    Assumed,
    /// The room's declared rate after its newest reading.
    Forecast,
}

impl KnownBy {
    /// The word that is shown.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Reading => "reading",
            Self::Gap => "gap",
            Self::NoHumidity => "no humidity",
            Self::Assumed => "assumed",
            Self::Forecast => "forecast",
        }
    }
}

/// A stretch of time in one room with one credit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CreditLeg {
    /// The room, if one was named.
    pub room: Option<String>,
    /// Since when.
    pub from: Moment,
    /// Until when.
    pub to: Moment,
    /// Thousandths of an hour that an hour counts.
    pub permille: i64,
    /// What that rests on.
    pub known_by: KnownBy,
}

/// Tells the credited cure of a piece: from tables in memory, or from readings that are fetched when asked for.
pub trait Air: std::fmt::Debug {
    /// Credit from `from` to `now` along the stays of a piece, and when `wanted` is reached.
    fn credited(&self, stays: &[Stay], from: Moment, now: Moment, wanted: Span) -> Credited;
}

/// Credit tables of all rooms under one policy.
#[derive(Debug, Clone)]
pub struct Tables {
    rooms: BTreeMap<String, CreditTable>,
    nowhere: CreditTable,
}

impl Tables {
    /// Builds the tables of all rooms.
    pub fn build(climate: &Climate, policy: &CreditPolicy) -> Self {
        let mut tables = Self::new(policy);
        for (name, air) in &climate.rooms {
            tables.insert(name, air, policy);
        }
        tables
    }

    /// Tables of no room yet: each counts as one without readings.
    pub fn new(policy: &CreditPolicy) -> Self {
        Self {
            rooms: BTreeMap::new(),
            nowhere: CreditTable::build(None, policy),
        }
    }

    /// Puts in a room, in the place of what was there of it.
    pub fn insert(&mut self, name: &str, air: &RoomAir, policy: &CreditPolicy) {
        let table = CreditTable::build(Some(air), policy);
        self.rooms.insert(name.to_owned(), table);
    }

    /// The same with other expectations of some rooms: see [`CreditTable::with_ahead`].
    #[must_use]
    pub fn with_ahead(&self, ahead: &BTreeMap<String, Vec<(Moment, i64)>>) -> Self {
        let rooms = self.rooms.iter().map(|(name, table)| {
            let steps = ahead.get(name).map_or(&[][..], Vec::as_slice);
            (name.clone(), table.with_ahead(steps))
        });
        Self {
            rooms: rooms.collect(),
            nowhere: self.nowhere.clone(),
        }
    }

    /// The stretches that [`Air::credited`] sums up from `from` to `now`, neighbours of one room and credit joined.
    pub fn legs(&self, stays: &[Stay], from: Moment, now: Moment) -> Vec<CreditLeg> {
        let mut out: Vec<CreditLeg> = Vec::new();
        let first = stays.partition_point(|s| s.from <= from).saturating_sub(1);
        let stays = stays.get(first..).unwrap_or_default();
        let ends = stays
            .iter()
            .skip(1)
            .map(|s| s.from)
            .chain([Moment(i64::MAX)]);
        let mut rooms: Vec<(Option<&str>, Moment, Moment)> = stays
            .iter()
            .zip(ends)
            .map(|(s, end)| (s.room.as_deref(), s.from.max(from), end.min(now)))
            .collect();
        if rooms.is_empty() {
            rooms.push((None, from, now));
        }
        for (room, begin, stop) in rooms {
            let table = self.of(room);
            let rest = table
                .stretches
                .get(table.stretch(begin)..)
                .unwrap_or_default();
            for (at, s) in rest.iter().enumerate() {
                let end = rest.get(at + 1).map_or(stop, |next| next.at.min(stop));
                let (begin, known_by) = (s.at.max(begin), table.known_by(s));
                if begin >= end {
                    continue;
                }
                match out.last_mut() {
                    Some(last)
                        if last.room.as_deref() == room
                            && last.permille == s.permille
                            && last.known_by == known_by
                            && last.to == begin =>
                    {
                        last.to = end;
                    }
                    _ => out.push(CreditLeg {
                        room: room.map(str::to_owned),
                        from: begin,
                        to: end,
                        permille: s.permille,
                        known_by,
                    }),
                }
            }
        }
        out
    }

    fn of(&self, room: Option<&str>) -> &CreditTable {
        room.and_then(|r| self.rooms.get(r))
            .unwrap_or(&self.nowhere)
    }
}

impl Air for Tables {
    fn credited(&self, stays: &[Stay], from: Moment, now: Moment, wanted: Span) -> Credited {
        let mut out = Credited::default();
        let mut missing = i128::from(wanted.0) * 1_000;
        let (mut earned, mut unknown, mut forecast) = (0_i128, 0_i128, false);
        let first = stays.partition_point(|s| s.from <= from).saturating_sub(1);
        let mut legs = stays.get(first..).unwrap_or_default().iter().peekable();
        let unplaced = Stay {
            from,
            rack: None,
            hook: None,
            room: None,
        };
        let mut leg = legs.next().unwrap_or(&unplaced);
        loop {
            let table = self.of(leg.room.as_deref());
            let begin = leg.from.max(from);
            let end = legs.peek().map(|next| next.from);
            let at_begin = table.at(begin);
            if begin < now {
                let at_stop = table.at(end.map_or(now, |e| e.min(now)));
                earned += at_stop.0 - at_begin.0;
                unknown += at_stop.1 - at_begin.1;
                out.assumed |= table.assumed;
            }
            if out.reached.is_none() {
                if let Some(at) = table.reach(begin, end, missing) {
                    out.reached = Some(at.minute_up());
                    forecast |= table.newest.is_some_and(|n| at > n);
                    out.assumed |= table.assumed;
                } else if let Some(end) = end {
                    missing -= table.at(end).0 - at_begin.0;
                }
            }
            match legs.next() {
                Some(next) => leg = next,
                None => break,
            }
        }
        out.earned = Span(i64::try_from(earned.div_euclid(1_000)).unwrap_or(i64::MAX));
        out.unknown = Span(i64::try_from(unknown).unwrap_or(i64::MAX));
        out.provisional = forecast || unknown > 0;
        out
    }
}

#[cfg(test)]
mod tests {
    use super::super::recipe::CreditBand;
    use super::*;
    use proptest::prelude::*;

    fn policy() -> CreditPolicy {
        let band = |from: Option<i64>, to: Option<i64>, to_included, permille, alert| CreditBand {
            from: from.map(Temperature),
            to: to.map(Temperature),
            to_included,
            permille,
            alert,
        };
        CreditPolicy {
            law: crate::shop::recipe::CreditLaw::Bands,
            bands: vec![
                band(None, Some(16_000), false, 0, false),
                band(Some(16_000), Some(20_000), false, 500, false),
                band(Some(20_000), Some(32_000), true, 1_000, false),
                band(Some(32_000), None, false, 1_000, true),
            ],
            unlogged_permille: 500,
        }
    }

    fn air(temps: &[(i64, i64)]) -> RoomAir {
        RoomAir {
            interval: Some(Span::minutes(15)),
            forecast_permille: 1_000,
            samples: temps
                .iter()
                .map(|(min, t)| Sample {
                    at: Moment(min * 60_000),
                    temperature: Temperature(*t),
                    humidity: None,
                })
                .collect(),
        }
    }

    fn one(air: RoomAir) -> (Tables, Vec<Stay>) {
        let climate = Climate {
            rooms: BTreeMap::from([("cure".to_owned(), air)]),
        };
        let stay = Stay {
            from: Moment(0),
            rack: None,
            hook: None,
            room: Some("cure".to_owned()),
        };
        (Tables::build(&climate, &policy()), vec![stay])
    }

    #[test]
    fn band_edges_are_half_open_on_thousandths() {
        let p = policy();
        for (t, want) in [
            (15_999, 0),
            (16_000, 500),
            (19_999, 500),
            (20_000, 1_000),
            (32_000, 1_000),
            (32_001, 1_000),
        ] {
            assert_eq!(p.permille(Temperature(t), None), Some(want), "{t}");
        }
        assert!(p.band(Temperature(32_001)).is_some_and(|b| b.alert));
        assert!(p.band(Temperature(32_000)).is_some_and(|b| !b.alert));
    }

    #[test]
    fn a_cold_night_costs_nine_and_a_quarter_hours() {
        // Every 15 min from 12:00: 22 C until 21:00, 17.0 to 22:00, 13.0 to 06:00, 17.5 to 07:30, then 22 again.
        let temps: Vec<(i64, i64)> = (0..=96)
            .map(|q| {
                let hour_min = q * 15;
                let t = match hour_min {
                    m if m < 540 => 22_000,
                    m if m < 600 => 17_000,
                    m if m < 1_080 => 13_000,
                    m if m < 1_170 => 17_500,
                    _ => 22_000,
                };
                (hour_min, t)
            })
            .collect();
        let (tables, stays) = one(air(&temps));
        let c = tables.credited(&stays, Moment(0), Moment(24 * 3_600_000), Span::hours(336));
        assert_eq!(c.earned, Span::minutes(24 * 60 - 555));
        assert_eq!(c.reached, Some(Moment((336 * 60 + 555) * 60_000)));
        assert!(c.provisional);
    }

    #[test]
    fn a_gap_earns_nothing_and_is_said() {
        let (tables, stays) = one(air(&[
            (0, 22_000),
            (15, 22_000),
            (120, 22_000),
            (135, 22_000),
        ]));
        let c = tables.credited(&stays, Moment(0), Moment(135 * 60_000), Span::hours(1));
        assert_eq!(c.earned, Span::minutes(30));
        assert_eq!(c.unknown, Span::minutes(105));
        assert!(c.provisional);
    }

    #[test]
    fn readings_without_the_humidity_that_a_law_needs_earn_nothing_and_it_is_said() {
        use crate::shop::recipe::CreditLaw;
        let policy = CreditPolicy {
            law: CreditLaw::Evaporation {
                reference: Temperature(21_000),
                reference_humidity: Humidity(5_000),
                floor: Temperature(13_000),
                humidity_high: None,
            },
            ..policy()
        };
        let mut room = air(&[(0, 21_000), (15, 21_000), (30, 12_000), (45, 21_000)]);
        if let Some(first) = room.samples.first_mut() {
            first.humidity = Some(Humidity(5_000));
        }
        let climate = Climate {
            rooms: BTreeMap::from([("cure".to_owned(), room)]),
        };
        let (_, stays) = one(air(&[]));
        let tables = Tables::build(&climate, &policy);
        let now = Moment(45 * 60_000);
        let c = tables.credited(&stays, Moment(0), now, Span::hours(9));
        assert_eq!(
            (c.earned, c.unknown),
            (Span::minutes(15), Span::minutes(15))
        );
        assert!(c.provisional);
        // The third reading is too cold, whatever its humidity was: that it earned nothing is known.
        let legs: Vec<(i64, KnownBy)> = tables
            .legs(&stays, Moment(0), now)
            .iter()
            .map(|l| (l.permille, l.known_by))
            .collect();
        assert_eq!(
            legs,
            [
                (1_000, KnownBy::Reading),
                (0, KnownBy::NoHumidity),
                (0, KnownBy::Reading)
            ]
        );
    }

    #[test]
    fn a_room_without_readings_is_assumed_slow() {
        let tables = Tables::build(&Climate::default(), &policy());
        let c = tables.credited(&[], Moment(0), Moment(3_600_000), Span::hours(2));
        assert_eq!((c.earned, c.assumed), (Span::minutes(30), true));
        assert_eq!(c.reached, Some(Moment(4 * 3_600_000)));
    }

    #[test]
    fn a_move_between_rooms_is_followed() {
        let (tables, mut stays) = one(air(&[
            (0, 22_000),
            (15, 22_000),
            (30, 22_000),
            (45, 22_000),
            (60, 22_000),
        ]));
        stays.push(Stay {
            from: Moment(30 * 60_000),
            rack: None,
            hook: None,
            room: None,
        });
        let c = tables.credited(&stays, Moment(0), Moment(60 * 60_000), Span::hours(1));
        assert_eq!(c.earned, Span::minutes(45));
        assert_eq!(c.reached, Some(Moment(90 * 60_000)));
    }

    proptest! {
        #[test]
        fn what_is_reached_is_earned_then_and_not_a_minute_before(
            temps in proptest::collection::vec(10_000_i64..34_000, 2..60),
            wanted_min in 1_i64..2_000,
        ) {
            let readings: Vec<(i64, i64)> =
                temps.iter().enumerate().map(|(i, t)| (i64::try_from(i).unwrap() * 15, *t)).collect();
            let (tables, stays) = one(air(&readings));
            let wanted = Span::minutes(wanted_min);
            let at = tables.credited(&stays, Moment(0), Moment(0), wanted).reached.unwrap();
            prop_assert!(tables.credited(&stays, Moment(0), at, wanted).earned >= wanted);
            let before = at.minus(Span::minutes(1));
            prop_assert!(tables.credited(&stays, Moment(0), before, wanted).earned < wanted);
        }
    }
}
