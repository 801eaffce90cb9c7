//! White wood beside the air that it will hang in.
//!
//! *Not here*: whether the wood is taken: the recipe's range warns, a person decides.

use crate::science::wood::equilibrium_moisture;
use crate::shop::calendar::Calendar;
use crate::shop::climate::Sample;
use crate::units::{Amount, Moment, Share, System, num};
use serde_json::{Value, json};
use uom::si::f64::{Ratio, ThermodynamicTemperature};
use uom::si::ratio::percent;
use uom::si::thermodynamic_temperature::degree_celsius;

/// What the air of a room brings wood to, beside the readings of the wood: one line and its values.
///
/// The air is the room's newest reading with a humidity. Outside the range of the formula it says so and gives no
/// figure.
pub fn beside(
    room: &str,
    newest: Option<&Sample>,
    moisture: &[Share],
    now: Moment,
    calendar: &Calendar,
    system: System,
) -> (String, Value) {
    let Some((sample, humidity)) = newest.and_then(|s| Some((s, s.humidity?))) else {
        return (
            format!(
                "  what the air of {room} brings the wood to is unknown: no reading with a humidity in the last day"
            ),
            json!({"room": room, "comes_to_percent": null}),
        );
    };
    let air = format!(
        "{}, {} at {}",
        sample.temperature.shown(system, 1),
        humidity.text(0),
        calendar.near(sample.at, now)
    );
    let rest = equilibrium_moisture(
        ThermodynamicTemperature::new::<degree_celsius>(num::float(sample.temperature.0) / 1_000.0),
        Ratio::new::<percent>(num::float(humidity.0) / 100.0),
    );
    match rest {
        Err(outside) => (
            format!("  the air of {room} ({air}): no figure, {outside}"),
            json!({"room": room, "comes_to_percent": null}),
        ),
        Ok(rest) => {
            let rest = rest.get::<percent>();
            let gaps: Vec<String> = moisture
                .iter()
                .map(|m| {
                    let gap = num::float(m.0) / 10_000.0 - rest;
                    let side = if gap < 0.0 { "below" } else { "above" };
                    format!("{} ({:.1} points {side})", m.text(1), gap.abs())
                })
                .collect();
            let beside = if gaps.is_empty() {
                "no reading of the wood".to_owned()
            } else {
                format!("the wood reads {}", gaps.join(", "))
            };
            (
                format!("  the air of {room} ({air}) brings wood to {rest:.1} %; {beside}"),
                json!({
                    "room": room,
                    "comes_to_percent": (rest * 10.0).round() / 10.0,
                    "temperature_mc": sample.temperature.0,
                    "humidity_cpct": humidity.0,
                }),
            )
        }
    }
}
