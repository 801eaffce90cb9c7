//! A booth's face velocity, held against the limit that the shop entered.

use crate::ledger::{ALL_BOOTHS, BoothSurvey, CeilingRow, FACE_VELOCITY};
use crate::science::booth::{face_survey, hold_survey};
use crate::science::registry;
use crate::science::worksheet::{Inputs, Origin, Quantity, Refusal, Side};
use crate::shop::calendar::Calendar;
use crate::units::{Amount, Speed, num};
use serde_json::{Value, json};
use uom::si::f64::Velocity;

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

/// The limit that a survey of this booth is held against: its own, else the one of all booths.
pub fn limit_of<'a>(booth: &str, limits: &'a [CeilingRow]) -> Option<&'a CeilingRow> {
    let of = |scope: &str| {
        limits
            .iter()
            .find(|l| l.what == FACE_VELOCITY && l.scope == scope)
    };
    of(booth).or_else(|| of(ALL_BOOTHS))
}

/// Holds a survey against the limit of its booth, or of all booths. An incomplete grid is unknown, never a result.
pub fn held(survey: &BoothSurvey, limits: &[CeilingRow], calendar: &Calendar) -> FaceVelocity {
    let readings: Vec<Velocity> = survey
        .readings
        .iter()
        .map(|r| Velocity::of_base(r.base()))
        .collect();
    let wanted = usize::try_from(survey.wanted).unwrap_or(usize::MAX);
    let limit = limit_of(&survey.booth, limits);
    let (average, lowest, side, held) = match face_survey(&readings, wanted) {
        Ok(found) => {
            let basis = limit.is_some_and(|l| l.basis == "lowest");
            let entered = limit.map(|l| Velocity::of_base(Speed(l.value).base()));
            let side = hold_survey(&found, basis, entered).side;
            let speed = |v: Velocity| Speed::of_base(v.to_base()).unwrap_or_default();
            let (word, text) = if found.complete() {
                (side.word(), sentence(side, limit))
            } else {
                let (have, wanted) = (found.readings, found.wanted);
                (
                    Side::Unknown.word(),
                    format!(
                        "The grid is incomplete: {have} of {wanted} readings. Measure the rest"
                    ),
                )
            };
            (speed(found.average), speed(found.lowest), word, text)
        }
        Err(outside) => (
            Speed(0),
            Speed(0),
            Side::Unknown.word(),
            format!("The survey gives no figure: {outside}"),
        ),
    };
    let words = format!(
        "{}: average {}, lowest {} on {}. {held}. Follow your site procedure; ask the safety lead.",
        survey.booth,
        average.text(1),
        lowest.text(1),
        calendar.stamp(survey.at)
    );
    FaceVelocity {
        average,
        lowest,
        side,
        words,
    }
}

fn sentence(side: Side, limit: Option<&CeilingRow>) -> String {
    let Some(l) = limit else {
        return "No limit is entered for it; \"hangtime limit enter\" does that".to_owned();
    };
    let words = match side {
        Side::Under => "Below limit",
        Side::At => "At the limit",
        Side::Over => "Above the limit",
        Side::Unknown | Side::NoneEntered => "It cannot be held against it",
    };
    format!(
        "Your site limit is {} on the {} (entered by {}, source: {}). {words}",
        l.typed, l.basis, l.person, l.source
    )
}

/// The survey as inputs of its worksheet, each with the entry that holds it.
pub fn inputs(survey: &BoothSurvey, limits: &[CeilingRow]) -> Result<Inputs, Refusal> {
    let sheet = registry::find("face-survey")
        .ok_or_else(|| Refusal::no_answer("face-survey", "", "the worksheet of booth surveys"))?;
    let mut inputs = Inputs::of(sheet)?;
    let origin = Origin::entry(survey.entry, &survey.instrument);
    let readings: Vec<(f64, Origin)> = survey
        .readings
        .iter()
        .map(|r| (r.base(), origin.clone()))
        .collect();
    inputs.fill_from("reading", &readings)?;
    let wanted = num::float(i64::from(survey.wanted));
    inputs.fill_from("wanted", &[(wanted, origin)])?;
    if let Some(l) = limit_of(&survey.booth, limits) {
        let more = format!(
            "limit of {}, entered by {}, source: {}",
            l.scope, l.person, l.source
        );
        let origin = Origin::entry(l.entry, &more);
        inputs.fill_from("limit", &[(Speed(l.value).base(), origin.clone())])?;
        inputs.fill_words("basis", &[(&l.basis, origin)])?;
    }
    Ok(inputs)
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
