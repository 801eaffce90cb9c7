//! A booth's face velocity, held against the limit that the shop entered.

use crate::ledger::{BoothSurvey, CeilingRow};
use crate::shop::calendar::Calendar;
use crate::units::{Amount, Speed, num};
use serde_json::{Value, json};

/// The name under which a face-velocity limit is entered.
pub const FACE_VELOCITY: &str = "face velocity";

/// How a survey stands to its limit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FaceVelocity {
    /// Mean of the readings, rounded half-to-even.
    pub average: Speed,
    /// Lowest reading.
    pub lowest: Speed,
    /// `under`, `at`, `over`, `unknown` or `none_entered`.
    pub side: &'static str,
    /// The sentence that people read.
    pub words: String,
}

/// Holds a survey against the limit of its booth, or of all booths. An incomplete grid is unknown, never a result.
pub fn held(survey: &BoothSurvey, limits: &[CeilingRow], calendar: &Calendar) -> FaceVelocity {
    let n = i128::try_from(survey.readings.len().max(1)).unwrap_or(1);
    let sum: i128 = survey.readings.iter().map(|r| i128::from(r.0)).sum();
    let average = Speed(i64::try_from(num::round_half_even(sum, n)).unwrap_or(0));
    let lowest = survey.readings.iter().min().copied().unwrap_or_default();
    let limit = limits
        .iter()
        .find(|l| l.what == FACE_VELOCITY && l.scope == survey.booth)
        .or_else(|| {
            limits
                .iter()
                .find(|l| l.what == FACE_VELOCITY && l.scope == "all booths")
        });
    let measured = format!(
        "{}: average {}, lowest {} on {}",
        survey.booth,
        average.text(1),
        lowest.text(1),
        calendar.stamp(survey.at)
    );
    let have = survey.readings.len();
    let wanted = usize::try_from(survey.wanted).unwrap_or(0);
    let (side, held) = match limit {
        _ if have < wanted => (
            "unknown",
            format!("The grid is incomplete: {have} of {wanted} readings. Measure the rest"),
        ),
        None => (
            "none_entered",
            "No limit is entered for it; \"hangtime limit enter\" does that".to_owned(),
        ),
        Some(l) => {
            let figure = if l.basis == "lowest" { lowest } else { average };
            let side = match figure.0.cmp(&l.value) {
                std::cmp::Ordering::Less => "under",
                std::cmp::Ordering::Equal => "at",
                std::cmp::Ordering::Greater => "over",
            };
            let words = match side {
                "under" => "Below limit",
                "at" => "At the limit",
                _ => "Above the limit",
            };
            (
                side,
                format!(
                    "Your site limit is {} on the {} (entered by {}, source: {}). {words}",
                    l.typed, l.basis, l.person, l.source
                ),
            )
        }
    };
    let words = format!("{measured}. {held}. Follow your site procedure; ask the safety lead.");
    FaceVelocity {
        average,
        lowest,
        side,
        words,
    }
}

/// A survey as JSON.
pub fn json_of(survey: &BoothSurvey, held: &FaceVelocity, calendar: &Calendar) -> Value {
    json!({
        "booth": survey.booth,
        "at": calendar.rfc3339(survey.at),
        "average_um_s": held.average.0,
        "lowest_um_s": held.lowest.0,
        "readings": survey.readings.len(),
        "readings_wanted": survey.wanted,
        "instrument": survey.instrument,
        "held_against": {"limit": FACE_VELOCITY, "side": held.side},
        "words": held.words,
    })
}
