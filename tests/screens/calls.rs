//! What is called out to the person at a terminal: one line, the bell once, one key to take note.

use crate::desk::Desk;
use crate::shop::{Bench, stamp, who};
use hangtime::ledger::{Claim, Ledger};
use hangtime::screens::keys::Key;
use hangtime::screens::model::AsOf;
use hangtime::screens::msg::{Effect, Msg};
use hangtime::screens::update::update;
use hangtime::shop::alert::{AlertFact, AlertKey, AlertKind, AlertRule, Quiet, To, Way};
use hangtime::shop::record::{ShopFact, What};
use hangtime::units::{Moment, Span};

fn rule(to: &str) -> AlertRule {
    AlertRule {
        name: "usual".to_owned(),
        kinds: vec![AlertKind::HandOver],
        to: vec![To::read(to).unwrap()],
        way: Way::Screen,
        quiet: None,
        repeat: None,
        ended: false,
    }
}

/// The morning's small shop, where DP gave a hand-over that nobody took, and a rule calls it out.
fn given(rule: &AlertRule) -> (Bench, Moment) {
    let (mut bench, now) = Bench::morning();
    let before = now.minus(Span::minutes(5));
    let at = stamp(before);
    let dp = who("DP");
    bench.ledger.set_alert_rule(rule, &dp, &at).unwrap();
    let head = bench.ledger.head().unwrap();
    let page = "page".to_owned();
    bench.ledger.give_hand_over(page, head, &dp, &at).unwrap();
    (bench, now)
}

fn line(desk: &Desk) -> String {
    desk.text().lines().nth(1).unwrap().to_owned()
}

/// How often it was claimed that a person was told by a screen.
fn told(ledger: &Ledger, to: &str) -> usize {
    let entries = ledger.entries(None).unwrap();
    let theirs = |what: &What| matches!(what, What::Shop(ShopFact::Alert(AlertFact::Told { to: whom, way: Way::Screen, .. })) if whom == to);
    entries.iter().filter(|e| theirs(&e.what)).count()
}

#[test]
fn an_alert_is_one_line_at_the_top_and_a_key_takes_note_of_it_for_good() {
    let (bench, now) = given(&rule("person AB"));
    let mut desk = Desk::sit(bench, now, Some("AB"));
    let shown = line(&desk);
    assert!(shown.starts_with("alert: handover of"), "{shown}");
    assert!(shown.ends_with("! marks seen"), "{shown}");
    insta::assert_snapshot!("an_alert_at_the_top_80x24", desk.snapshot());
    desk.key(Key::Char('!'));
    assert!(desk.note().contains("AB has seen it"), "{}", desk.note());
    assert!(!line(&desk).contains("alert"), "{}", desk.text());
    // Not at this terminal after a restart, and not at any other.
    desk.model.now = desk.model.now.plus(Span::minutes(1));
    let mut desk = desk.restart(Some("AB"));
    assert!(!desk.text().contains("alert:"), "{}", desk.text());
    desk.key(Key::Char('!'));
    assert!(
        desk.note().contains("nothing is called out"),
        "{}",
        desk.note()
    );
}

#[test]
fn the_bell_is_claimed_once_for_a_person_however_many_terminals_there_are() {
    let (bench, now) = given(&rule("person AB"));
    let desk = Desk::sit(bench, now, Some("AB"));
    assert_eq!(told(&desk.ledger(), "AB"), 1);
    let mut desk = desk.restart(Some("AB"));
    desk.tell(Msg::Changed);
    assert!(desk.text().contains("alert: handover"), "{}", desk.text());
    assert_eq!(told(&desk.ledger(), "AB"), 1);
    // The message that follows a claim rings, and nothing else does.
    assert_eq!(update(&mut desk.model, Msg::Ring), [Effect::Bell]);
}

#[test]
fn others_see_nothing_and_who_comes_to_the_terminal_sees_their_own() {
    let (bench, now) = given(&rule("person AB"));
    let mut desk = Desk::sit(bench, now, Some("CD"));
    assert!(!desk.text().contains("alert:"), "{}", desk.text());
    assert_eq!(told(&desk.ledger(), "CD"), 0);
    desk.key(Key::Char('i'));
    desk.keys("AB");
    desk.key(Key::Enter);
    assert!(desk.text().contains("alert: handover"), "{}", desk.text());
    assert_eq!(told(&desk.ledger(), "AB"), 1);
}

#[test]
fn a_station_is_called_with_nobody_at_it_and_asks_who_takes_note() {
    let (bench, now) = given(&rule("station S1"));
    let mut desk = Desk::sit(bench, now, None);
    assert!(desk.text().contains("alert: handover"), "{}", desk.text());
    assert_eq!(told(&desk.ledger(), "station S1"), 1);
    desk.key(Key::Char('!'));
    assert!(desk.text().contains("your initials?"), "{}", desk.text());
    desk.keys("AB");
    desk.key(Key::Enter);
    desk.key(Key::Char('!'));
    assert!(!desk.text().contains("alert:"), "{}", desk.text());
}

#[test]
fn quiet_hours_keep_the_bell_and_another_moment_than_the_present_calls_nobody() {
    let hush = AlertRule {
        quiet: Some(Quiet::read("00:00-23:59").unwrap()),
        ..rule("person AB")
    };
    let (bench, now) = given(&hush);
    let mut desk = Desk::sit(bench, now, Some("AB"));
    assert!(desk.text().contains("alert: handover"), "{}", desk.text());
    assert_eq!(told(&desk.ledger(), "AB"), 0);
    desk.model.as_of = AsOf::TomorrowMorning;
    desk.tell(Msg::Changed);
    assert!(!desk.text().contains("alert:"), "{}", desk.text());
}

#[test]
fn a_long_alert_and_others_behind_it_stay_on_one_line_at_every_width() {
    let (mut bench, now) = given(&rule("person AB"));
    let later = stamp(now.minus(Span::minutes(4)));
    let head = bench.ledger.head().unwrap();
    let cd = who("CD");
    bench
        .ledger
        .give_hand_over("p".to_owned(), head, &cd, &later)
        .unwrap();
    let mut desk = Desk::sit(bench, now, Some("AB"));
    for width in [40, 60, 80, 120] {
        desk.size(width, 16);
        let shown = line(&desk);
        assert!(shown.contains("and 1 more"), "{width}: {shown}");
        assert!(shown.trim_end().ends_with("marks seen"), "{width}: {shown}");
    }
}

#[test]
fn of_two_terminals_that_ring_at_once_one_has_the_claim() {
    let (mut bench, now) = given(&rule("person AB"));
    let mut other = Ledger::open(bench.ledger.path()).unwrap();
    let at = stamp(now);
    let claim = Claim {
        key: AlertKey {
            kind: AlertKind::HandOver,
            about: "entry 1".to_owned(),
            since: now,
        },
        to: "AB".to_owned(),
        way: Way::Screen,
        after: None,
    };
    let ab = who("AB");
    let claimed = |ledger: &mut Ledger, claim: &Claim| {
        let claims = [claim.clone()];
        ledger.claim_alerts(&claims, &ab, &at).unwrap().len()
    };
    assert_eq!(claimed(&mut bench.ledger, &claim), 1);
    assert_eq!(claimed(&mut other, &claim), 0);
    // Nor does a terminal whose clock is a minute behind claim it again.
    let behind = stamp(now.minus(Span::minutes(1)));
    let claims = [claim.clone()];
    assert_eq!(other.claim_alerts(&claims, &ab, &behind).unwrap(), []);
    assert_eq!(told(&other, "AB"), 1);
    // Another way, another person, and a rule that repeats are claims of their own.
    let desktop = Claim {
        way: Way::Desktop,
        ..claim.clone()
    };
    assert_eq!(claimed(&mut other, &desktop), 1);
    let again = Claim {
        after: Some(now.plus(Span::minutes(1))),
        ..claim
    };
    assert_eq!(claimed(&mut other, &again), 1);
    assert_eq!(told(&other, "AB"), 2);
    // Telling is no deed of hers: there is nothing to undo by it.
    let undoable = other.undoable(&ab).unwrap();
    assert!(undoable.is_none_or(|a| a.deed != "alert told"));
}

// How long the alerts that somebody put off are put off for.
fn put_off(ledger: &Ledger) -> Vec<(String, Moment)> {
    let entries = ledger.entries(None).unwrap();
    let of = |what: &What| match what {
        What::Shop(ShopFact::Alert(AlertFact::Snoozed { until, .. })) => Some(*until),
        _ => None,
    };
    let snoozed = entries
        .iter()
        .filter_map(|e| Some((e.person.clone(), of(&e.what)?)));
    snoozed.collect()
}

#[test]
fn a_key_puts_an_alert_off_for_half_an_hour_and_then_it_is_called_out_again() {
    let (bench, now) = given(&rule("person AB"));
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.size(100, 24);
    let shown = line(&desk);
    assert!(
        shown.trim_end().ends_with("z 30 min later  ! marks seen"),
        "{shown}"
    );
    desk.key(Key::Char('z'));
    assert!(
        desk.note().contains("AB put it off to 10:14"),
        "{}",
        desk.note()
    );
    assert!(!desk.text().contains("alert:"), "{}", desk.text());
    let [(person, until)] = put_off(&desk.ledger()).try_into().unwrap();
    assert_eq!(person, "AB");
    let half = until.since(now);
    assert!(
        (Span::minutes(30)..Span::minutes(31)).contains(&half),
        "{half:?}"
    );
    // Nor at another terminal, until the half hour is over.
    desk.model.now = now.plus(Span::minutes(1));
    let mut desk = desk.restart(Some("AB"));
    assert!(!desk.text().contains("alert:"), "{}", desk.text());
    desk.key(Key::Char('z'));
    assert!(
        desk.note().contains("nothing is called out"),
        "{}",
        desk.note()
    );
    assert_eq!(put_off(&desk.ledger()).len(), 1);
    desk.model.now = now.plus(Span::minutes(32));
    let mut desk = desk.restart(Some("AB"));
    assert!(desk.text().contains("alert: handover"), "{}", desk.text());
    // What was put off can be taken note of then.
    desk.key(Key::Char('!'));
    assert!(!desk.text().contains("alert:"), "{}", desk.text());
}

#[test]
fn printed_tags_take_note_of_an_alert_and_put_it_off_also_over_a_page() {
    let (bench, now) = given(&rule("person AB"));
    let mut desk = Desk::sit(bench, now, Some("AB"));
    // A card lies open below the line.
    desk.scan("B0410");
    desk.scan("HTLATER");
    assert!(desk.note().contains("AB put it off"), "{}", desk.note());
    assert_eq!(put_off(&desk.ledger()).len(), 1);
    assert!(!desk.text().contains("alert:"), "{}", desk.text());
    desk.model.now = now.plus(Span::minutes(32));
    let mut desk = desk.restart(Some("AB"));
    desk.scan("HTNOTE");
    assert!(desk.note().contains("AB has seen it"), "{}", desk.note());
    assert!(!desk.text().contains("alert:"), "{}", desk.text());

    // A question that is open is answered first; who it is, is one of them.
    let (bench, now) = given(&rule("station S1"));
    let mut desk = Desk::sit(bench, now, None);
    desk.scan("HTLATER");
    assert!(desk.text().contains("your initials?"), "{}", desk.text());
    desk.scan("HTNOTE");
    assert!(
        desk.note().contains("answer the question first"),
        "{}",
        desk.note()
    );
    assert_eq!(put_off(&desk.ledger()), []);
    desk.scan("HTBYAB");
    desk.scan("HTLATER");
    let [(person, _)] = put_off(&desk.ledger()).try_into().unwrap();
    assert_eq!(person, "AB");
}
