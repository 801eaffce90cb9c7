//! Facts and figures in words, as every page says them.

use crate::ledger::{MixRow, Seen};
use crate::reports::together::ranges;
use crate::screens::model::Shop;
use crate::shop::calendar::Calendar;
use crate::shop::outlook::View;
use crate::shop::words::{Outlook, Word};
use crate::units::{Amount, Dimension, Film, Moment, Share, Span, System, Volume, show, show_as};

/// Said on every page that shows the word.
pub(super) const READY: &str = "ready: recipe time reached, check by hand";

/// A film in the wanted units.
pub(super) fn film(film: Film, system: System) -> String {
    let decimals = match system {
        System::Us => 2,
        System::Metric => 0,
    };
    show(film.base(), show_as(Dimension::Length, system), decimals)
}

/// A volume in the wanted units.
pub(super) fn volume(volume: Volume, system: System) -> String {
    let decimals = match system {
        System::Us => 1,
        System::Metric => 0,
    };
    show(volume.base(), show_as(Dimension::Volume, system), decimals)
}

fn share(share: Share) -> String {
    share.text(1)
}

/// The wait of a piece, rounded up: `now`, `86 min`, `3 h 05`, `2 d 04 h`; nothing to wait for while it is held, nor
/// once it is ready, though its time is rounded up to a minute that has not come.
pub(super) fn left(outlook: Outlook, ready_at: Option<Moment>, at: Moment) -> String {
    match ready_at {
        _ if outlook == Outlook::Held => "-".to_owned(),
        None => "-".to_owned(),
        Some(_) if outlook == Outlook::Ready => "now".to_owned(),
        Some(t) if t <= at => "now".to_owned(),
        Some(t) => short(at.left_until(t)),
    }
}

/// How old something is, never shown younger than it is. Where two places say it, both ask here.
pub(super) fn age(made: Moment, now: Moment) -> String {
    short(made.left_until(now))
}

// A span in the width of a column, in whole minutes, and from a day on in whole hours.
fn short(span: Span) -> String {
    let minutes = span.0 / 60_000;
    let hours = minutes / 60;
    match minutes {
        ..=120 => format!("{minutes} min"),
        121..=1_439 => format!("{hours} h {:02}", minutes % 60),
        _ => format!("{} d {:02} h", hours / 24, hours % 24),
    }
}

/// The moment from which on it is ready, as read from `at`; a forecast is marked.
pub(super) fn from(view: &View, at: Moment, c: &Calendar) -> String {
    moment(view.outlook, view.ready_at, view.provisional, at, c)
}

/// The same for a rack.
pub(super) fn moment(
    outlook: Outlook,
    ready_at: Option<Moment>,
    provisional: bool,
    at: Moment,
    c: &Calendar,
) -> String {
    match ready_at {
        _ if outlook == Outlook::Held => "-".to_owned(),
        None => "unknown".to_owned(),
        Some(t) => format!("{}{}", if provisional { "~" } else { "" }, c.near(t, at)),
    }
}

/// Hooks in runs: `hooks 1-6, 8, 13-16`; the empty text when none is known.
pub(super) fn hooks(all: &[u32]) -> String {
    match all {
        [] => String::new(),
        [one] => format!("hook {one}"),
        _ => format!("hooks {}", ranges(all)),
    }
}

/// The first reason in words.
pub(super) fn reason(seen: &Seen, calendar: &Calendar) -> String {
    let begun = seen.now.begun.as_ref();
    let mut text = match seen.view.reasons.first() {
        _ if seen.view.outlook == Outlook::InWork => begun.map_or_else(String::new, |b| {
            format!(
                "{} begun {} by {}",
                b.kind.word(),
                calendar.clock(b.at),
                b.person
            )
        }),
        Some(o) => o.before.clone(),
        None if seen.view.outlook == Outlook::Ready => "recipe time reached, check by hand".into(),
        None => seen.view.next.clone(),
    };
    if seen.view.queued.is_some() {
        text = format!("queued too long; {text}");
    }
    if seen.view.behind {
        text = format!("behind its due date; {text}");
    }
    text
}

/// A mix in one line.
pub(super) fn mix(mix: &MixRow, now: Moment, shop: &Shop) -> String {
    let parts: Vec<String> = mix
        .parts
        .iter()
        .map(|p| format!("{} {}", volume(p.volume, shop.system), p.lot))
        .collect();
    format!(
        "mix {} \"{}\", made {} ({} ago), {} in all: {}; solids {}, retarder {}",
        mix.mix,
        mix.name,
        shop.calendar.near(mix.made, now),
        age(mix.made, now),
        volume(mix.volume, shop.system),
        parts.join(" + "),
        share(mix.solids),
        share(mix.retarder),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_age_is_never_shown_younger_than_it_is() {
        let age = |seconds: i64| age(Moment(0), Moment(seconds * 1_000));
        assert_eq!(age(0), "0 min");
        assert_eq!(age(59), "1 min");
        assert_eq!(age(86_400 + 3_600 + 1_680), "1 d 02 h");
    }

    #[test]
    fn a_wait_is_never_shown_shorter_than_it_is() {
        let at = Moment(0);
        let left = |seconds: i64| left(Outlook::Waiting, Some(Moment(seconds * 1_000)), at);
        assert_eq!(left(0), "now");
        assert_eq!(super::left(Outlook::Ready, Some(Moment(59_000)), at), "now");
        assert_eq!(left(1), "1 min");
        assert_eq!(left(7_200), "120 min");
        assert_eq!(left(7_201), "2 h 01");
        assert_eq!(left(86_400), "1 d 00 h");
        assert_eq!(left(86_401), "1 d 01 h");
        assert_eq!(left(90_000 + 7_200), "1 d 03 h");
    }

    #[test]
    fn hooks_are_said_in_runs() {
        assert_eq!(hooks(&[1, 2, 3, 5, 8, 9]), "hooks 1-3, 5, 8-9");
        assert_eq!(hooks(&[7]), "hook 7");
        assert_eq!(hooks(&[]), "");
    }
}
