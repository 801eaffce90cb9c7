//! A draft's words: what a deed needs to be opened again, in words that a person can read too.
//!
//! *Invariants*: whatever [`words`] writes, [`wanted`] reads back the same; words of another hand are refused whole.

use super::msg::Wanted;
use crate::ledger::{DeedWhat, Included, Target, Who};
use crate::shop::record::{CoatMore, Fact, Sprayed};
use crate::shop::words::{Defect, StepKind, Word};
use crate::units::{Moment, Volume};

const FIRST: &str = "screen";

/// The words of a deed. Pieces that were taken along one by one and wet readings are not typed on the screens, so
/// they have no words.
pub(super) fn words(wanted: &Wanted) -> Vec<String> {
    let mut words: Vec<String> = vec![FIRST.to_owned()];
    let mut say = |name: &str, value: &str| words.extend([name.to_owned(), value.to_owned()]);
    match &wanted.what {
        DeedWhat::Coat {
            mix, amount, more, ..
        } => {
            say("deed", "coat");
            if let Some(mix) = mix {
                say("mix", &mix.to_string());
            }
            if let Some(amount) = amount {
                say("amount-ul", &amount.0.to_string());
            }
            if let Some(Sprayed::Booth(booth)) = &more.sprayed {
                say("booth", booth);
            }
        }
        DeedWhat::Sand { .. } => say("deed", "sand"),
        DeedWhat::Other(Fact::Worked { kind }) => say("deed", kind.word()),
        DeedWhat::Other(Fact::Flawed { defect, .. }) => {
            say("deed", "defect");
            say("defect", defect.word());
        }
        DeedWhat::Other(_)
        | DeedWhat::Begin { .. }
        | DeedWhat::End
        | DeedWhat::Rehang { .. }
        | DeedWhat::Pair { .. } => {}
    }
    match &wanted.target {
        Target::Rack(rack, None) => say("rack", rack),
        Target::Rack(rack, Some((a, b))) => {
            say("rack", rack);
            say("hooks", &format!("{a}-{b}"));
        }
        Target::Pieces(list) => list.iter().for_each(|p| say("piece", p)),
    }
    if let Some(surface) = &wanted.surface {
        say("surface", surface);
    }
    say("ended-ms", &wanted.ended.0.to_string());
    if wanted.included == Included::All {
        say("include", "all");
    }
    wanted.skipped.iter().for_each(|p| say("skip", p));
    if let Some(coat) = wanted.expects {
        say("expects", &coat.to_string());
    }
    say("by", &wanted.who.person);
    say("station", &wanted.who.station);
    words
}

/// The deed that words tell of; `None` when they are of another hand.
pub(super) fn wanted(words: &[String], draft: &str) -> Option<Wanted> {
    let (first, rest) = words.split_first()?;
    if first != FIRST || rest.len() % 2 != 0 {
        return None;
    }
    let mut deed = None;
    let (mut rack, mut hooks, mut pieces) = (None, None, Vec::new());
    let (mut ended, mut mix, mut expects) = (None, None, None);
    let (mut by, mut station) = (None, None);
    let (mut skipped, mut included) = (Vec::new(), Included::None);
    let (mut defect, mut surface, mut amount) = (None, None, None);
    let mut more = CoatMore::default();
    for pair in rest.chunks_exact(2) {
        let [name, value] = pair else { return None };
        match name.as_str() {
            "deed" => deed = Some(value.as_str()),
            "mix" => mix = Some(value.parse().ok()?),
            "amount-ul" => amount = Some(Volume(value.parse().ok()?)),
            "booth" => more.sprayed = Some(Sprayed::Booth(value.clone())),
            "defect" => defect = Some(Defect::from_word(value)?),
            "surface" => surface = Some(value.clone()),
            "rack" => rack = Some(value.clone()),
            "hooks" => {
                let (a, b) = value.split_once('-')?;
                hooks = Some((a.parse().ok()?, b.parse().ok()?));
            }
            "piece" => pieces.push(value.clone()),
            "ended-ms" => ended = Some(Moment(value.parse().ok()?)),
            "include" => included = Included::All,
            "skip" => skipped.push(value.clone()),
            "expects" => expects = Some(value.parse().ok()?),
            "by" => by = Some(value.clone()),
            "station" => station = Some(value.clone()),
            _ => return None,
        }
    }
    let what = match deed? {
        "coat" => DeedWhat::Coat {
            kind: None,
            touch_up: false,
            mix,
            lot: None,
            amount,
            wet: Vec::new(),
            supervisor: None,
            more,
        },
        "sand" => DeedWhat::Sand {
            kind: None,
            removed: None,
            grit: None,
        },
        "defect" => DeedWhat::Other(Fact::Flawed {
            defect: defect?,
            size_um: None,
            place: None,
            note: None,
        }),
        other => DeedWhat::Other(Fact::Worked {
            kind: StepKind::from_word(other)?,
        }),
    };
    let person = by?;
    Some(Wanted {
        who: Who {
            writer: person.clone(),
            person,
            station: station?,
        },
        target: rack.map_or(Target::Pieces(pieces), |r| Target::Rack(r, hooks)),
        what,
        surface,
        ended: ended?,
        included,
        skipped,
        expects,
        another: false,
        draft: Some(draft.to_owned()),
    })
}
