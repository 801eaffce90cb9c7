use super::*;
use crate::ledger::AlertTold;
use crate::shop::alert::{AlertKind, Quiet};
use crate::units::Span;

const NOON: Moment = Moment(43_200_000);

fn alert(kind: AlertKind, about: &str) -> Alert {
    Alert {
        event: Event {
            key: AlertKey {
                kind,
                about: about.to_owned(),
                since: Moment(1_000),
            },
            at: Moment(2_000),
            text: format!("{about} {}", kind.word()),
        },
        marks: AlertMarks::default(),
    }
}

fn rule(way: Way, to: &[&str]) -> AlertRule {
    AlertRule {
        name: "all".to_owned(),
        kinds: AlertKind::ALL.to_vec(),
        to: to.iter().map(|t| To::read(t).unwrap()).collect(),
        way,
        quiet: None,
        repeat: None,
        ended: false,
    }
}

fn told(to: &str, way: Way, at: Moment) -> AlertTold {
    AlertTold {
        to: to.to_owned(),
        way,
        at,
        fault: None,
    }
}

fn people() -> Vec<(String, Role)> {
    vec![
        ("DP".to_owned(), Role::Supervisor),
        ("MK".to_owned(), Role::Supervisor),
        ("SL".to_owned(), Role::SafetyLead),
    ]
}

fn listener(person: Option<&str>, role: Option<Role>) -> Listener<'_> {
    Listener {
        person,
        role,
        station: "booth-1",
    }
}

fn sent(alerts: &[Alert], rules: &[AlertRule], at: Moment) -> Vec<(String, Vec<String>)> {
    to_send(alerts, rules, &people(), at, &Calendar::BARE)
        .into_iter()
        .map(|s| {
            (
                s.event.key.about,
                s.claims.into_iter().map(|c| c.to).collect(),
            )
        })
        .collect()
}

fn lines(alerts: &[Alert], rules: &[AlertRule], who: &Listener<'_>) -> Vec<(String, bool)> {
    on_screen(alerts, rules, who, NOON, &Calendar::BARE)
        .into_iter()
        .map(|l| (l.key.about, l.ring.is_some()))
        .collect()
}

#[test]
fn without_a_rule_nobody_is_told() {
    let late = [alert(AlertKind::Late, "R8")];
    let mk = listener(Some("MK"), Some(Role::Supervisor));
    assert!(lines(&late, &[], &mk).is_empty());
    assert!(sent(&late, &[], NOON).is_empty());
}

#[test]
fn a_rule_without_people_goes_to_the_role_of_the_kind() {
    let all = [alert(AlertKind::Late, "R8"), alert(AlertKind::Drum, "W-3")];
    let rules = [rule(Way::Screen, &[])];
    let lead = listener(Some("SL"), Some(Role::SafetyLead));
    assert_eq!(lines(&all, &rules, &lead), [("W-3".to_owned(), true)]);
    let sends = sent(&all, &[rule(Way::Command, &[])], NOON);
    let want = [
        ("R8".to_owned(), vec!["DP".to_owned(), "MK".to_owned()]),
        ("W-3".to_owned(), vec!["SL".to_owned()]),
    ];
    assert_eq!(sends, want);
    // Nobody is a finisher in the list: the role stands for whoever it is.
    let ready = [alert(AlertKind::Ready, "R8")];
    let sends = sent(&ready, &[rule(Way::Command, &[])], NOON);
    assert_eq!(sends[0].1, ["finisher"]);
}

#[test]
fn one_event_tells_one_person_once_by_each_way() {
    let mut late = alert(AlertKind::Late, "R8");
    late.marks.told.push(told("MK", Way::Screen, Moment(3_000)));
    let both = [rule(Way::Screen, &["supervisor", "person MK"])];
    let mk = listener(Some("MK"), Some(Role::Supervisor));
    // The line stays, the bell does not ring again; the other supervisor's does.
    assert_eq!(
        lines(&[late.clone()], &both, &mk),
        [("R8".to_owned(), false)]
    );
    let dp = listener(Some("DP"), Some(Role::Supervisor));
    assert_eq!(
        lines(&[late.clone()], &both, &dp),
        [("R8".to_owned(), true)]
    );
    // Another way is another word; two rules of one way are one.
    let twice = [
        rule(Way::Desktop, &["person MK"]),
        rule(Way::Desktop, &["supervisor"]),
    ];
    let sends = sent(&[late], &twice, NOON);
    assert_eq!(
        sends.iter().map(|s| s.1.clone()).collect::<Vec<_>>(),
        [vec!["MK".to_owned()], vec!["DP".to_owned()]]
    );
}

#[test]
fn who_took_note_or_put_it_off_hears_no_more_and_others_do() {
    let mut late = alert(AlertKind::Late, "R8");
    late.marks.seen.push(("MK".to_owned(), Moment(3_000)));
    late.marks
        .snoozed
        .push(("DP".to_owned(), NOON.plus(Span::minutes(1))));
    let rules = [rule(Way::Screen, &["supervisor", "station booth-1"])];
    let role = Some(Role::Supervisor);
    assert!(lines(&[late.clone()], &rules, &listener(Some("MK"), role)).is_empty());
    assert!(lines(&[late.clone()], &rules, &listener(Some("DP"), role)).is_empty());
    assert_eq!(late.put_off_by("DP", NOON.plus(Span::minutes(1))), None);
    // Nobody by name: any note counts for a station.
    assert!(lines(&[late.clone()], &rules, &listener(None, None)).is_empty());
    let sl = listener(Some("SL"), Some(Role::SafetyLead));
    assert_eq!(lines(&[late], &rules, &sl), [("R8".to_owned(), true)]);
}

#[test]
fn quiet_hours_hold_the_bell_and_the_sending_but_not_the_line() {
    let late = [alert(AlertKind::Late, "R8")];
    let quiet = Some(Quiet::read("11:00-13:00").unwrap());
    let hush = |way| AlertRule {
        quiet,
        ..rule(way, &["supervisor"])
    };
    let mk = listener(Some("MK"), Some(Role::Supervisor));
    assert_eq!(
        lines(&late, &[hush(Way::Screen)], &mk),
        [("R8".to_owned(), false)]
    );
    assert!(sent(&late, &[hush(Way::Command)], NOON).is_empty());
    let after = NOON.plus(Span::hours(1));
    assert_eq!(sent(&late, &[hush(Way::Command)], after).len(), 1);
}

#[test]
fn a_rule_that_repeats_tells_again_until_somebody_takes_note() {
    let mut late = alert(AlertKind::Late, "R8");
    late.marks.told.push(told("MK", Way::Command, NOON));
    let rules = [AlertRule {
        repeat: Some(Span::minutes(30)),
        ..rule(Way::Command, &["person MK"])
    }];
    let after = |minutes| NOON.plus(Span::minutes(minutes));
    assert!(sent(&[late.clone()], &rules, after(29)).is_empty());
    assert_eq!(sent(&[late.clone()], &rules, after(30)).len(), 1);
    late.marks.seen.push(("MK".to_owned(), after(10)));
    assert!(sent(&[late], &rules, after(60)).is_empty());
}
