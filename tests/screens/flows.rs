//! What keys do: message -> state and effects, and whole flows through the real ledger.

use crate::desk::Desk;
use crate::shop::{Bench, coat, piece, rack, stamp, who};
use hangtime::ledger::{DeedRequest, Outcome, Target};
use hangtime::screens::keys::{Key, Mode};
use hangtime::screens::model::{AsOf, Page, Which};
use hangtime::screens::msg::{Effect, Msg};
use hangtime::screens::update::update;
use hangtime::shop::words::Outlook;
use hangtime::units::Moment;

fn later(desk: &mut Desk, minutes: i64) {
    let now = Moment(desk.model.now.0 + minutes * 60_000);
    desk.tell(Msg::Now(now));
}

#[test]
fn a_scan_c_and_enter_log_a_coat_on_the_whole_rack() {
    let (bench, _) = Bench::morning();
    let now = bench.at("2026-03-12 10:44");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.scan("R3");
    desk.key(Key::Char('c'));
    assert_eq!(
        desk.model.log().unwrap().plan().unwrap().line,
        "Rack R3 - clear coat 2 - 12 pieces - ended 10:44 - mix 3"
    );
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Receipt);
    assert!(
        desk.text()
            .contains("saved: Rack R3 - clear coat 2 - 12 pieces - ended 10:44 - mix 3")
    );
    let (action, entries) = {
        let ledger = desk.ledger();
        let last = ledger.last_action(None).unwrap().unwrap();
        ledger.action(last.seq).unwrap()
    };
    assert_eq!(
        (action.deed.as_str(), action.person.as_str(), entries.len()),
        ("coat", "AB", 12)
    );
    assert_eq!(action.ended, desk.model.now);
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Floor);
    let neck = desk.model.floor.on_rack("R3").next().unwrap();
    assert_eq!(neck.view.next, "clear 3 of 6");
}

#[test]
fn what_is_saved_is_what_was_shown_even_when_minutes_go_by() {
    let (bench, _) = Bench::morning();
    let now = bench.at("2026-03-12 10:44");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.scan("R3");
    desk.keys("cm");
    assert_eq!(desk.model.mode(), Mode::Minutes);
    desk.keys("12x");
    desk.key(Key::Enter);
    later(&mut desk, 3);
    desk.key(Key::Enter);
    let last = desk.ledger().last_action(None).unwrap().unwrap();
    assert_eq!(last.ended, Moment(now.0 - 12 * 60_000));
}

#[test]
fn enter_that_comes_before_the_line_saves_only_where_nothing_speaks_against_it() {
    for (name, clear) in [("R3", true), ("R12", false)] {
        let (bench, _) = Bench::morning();
        let now = bench.at("2026-03-12 10:44");
        let mut desk = Desk::sit(bench, now, Some("AB"));
        desk.scan(name);
        let preview = update(&mut desk.model, Msg::Key(Key::Char('c')));
        assert!(matches!(preview.as_slice(), [Effect::Preview { .. }]));
        assert!(update(&mut desk.model, Msg::Key(Key::Enter)).is_empty());
        desk.act(preview);
        let wanted = if clear { Mode::Receipt } else { Mode::Confirm };
        assert_eq!(desk.model.mode(), wanted, "{}", desk.note());
    }
}

#[test]
fn pieces_with_an_objection_are_left_out_until_x_takes_them_along() {
    let mut desk = Desk::morning();
    desk.scan("R12");
    desk.keys("c");
    let taken = |d: &Desk| d.model.log().unwrap().plan().unwrap().taken().count();
    assert_eq!(taken(&desk), 2);
    desk.keys("x");
    assert_eq!(taken(&desk), 16);
    desk.keys("x");
    assert_eq!(taken(&desk), 2);
}

#[test]
fn a_deviation_asks_why_and_keeps_the_digit_as_its_reason() {
    let mut desk = Desk::morning();
    desk.scan("B0416");
    desk.keys("c");
    assert!(desk.text().contains("on hold: dent beside the binding"));
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Why, "{}", desk.note());
    desk.keys("3");
    assert_eq!(desk.model.mode(), Mode::Receipt);
    let deviations = desk.ledger().deviations(false).unwrap();
    assert_eq!(deviations.len(), 1);
    assert_eq!(deviations[0].reason.as_deref(), Some("repair"));
    assert_eq!(deviations[0].serial, "B0416");
}

#[test]
fn an_undo_passes_by_what_stays_and_says_why() {
    let (mut bench, now) = Bench::morning();
    let s = stamp(now);
    bench
        .ledger
        .declare_room("room 9", None, 1_000, &who("AB"), &s)
        .unwrap();
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.keys("u");
    assert_eq!(desk.model.mode(), Mode::Undo);
    assert!(
        desk.note()
            .contains("(room) cannot be taken back: later entries rest on it"),
        "{}",
        desk.note()
    );
    assert!(
        desk.text().contains("coat on rack R12 at 09:00 by AB"),
        "{}",
        desk.text()
    );
    desk.key(Key::Enter);
    assert!(
        desk.note().contains("is taken back (13 entries)"),
        "{}",
        desk.note()
    );
    // Somebody with nothing but a room has nothing to take back, and is told why.
    let mut ledger = desk.ledger();
    ledger
        .declare_room("room 10", None, 1_000, &who("ZZ"), &s)
        .unwrap();
    desk.model.person = Some("ZZ".to_owned());
    desk.keys("u");
    assert_ne!(desk.model.mode(), Mode::Undo);
    let note = desk.note();
    assert!(
        note.contains("ZZ has nothing to undo") && note.contains("enter the right fact again"),
        "{note}"
    );
}

#[test]
fn undo_shows_what_it_would_take_back_and_takes_it_back_on_enter() {
    let mut desk = Desk::morning();
    let before = desk
        .model
        .floor
        .on_rack("R12")
        .next()
        .unwrap()
        .view
        .next
        .clone();
    assert_eq!(before, "clear 5 of 9");
    desk.keys("u");
    assert_eq!(desk.model.mode(), Mode::Undo);
    assert!(
        desk.text().contains("coat on rack R12 at 09:00 by AB"),
        "{}",
        desk.text()
    );
    desk.key(Key::Esc);
    assert_eq!(
        desk.ledger().floor(desk.model.now, None).unwrap()[2]
            .view
            .next,
        before
    );
    desk.keys("u");
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Floor);
    assert!(
        desk.note().contains("is taken back (13 entries)"),
        "{}",
        desk.note()
    );
    let piece = desk.model.floor.on_rack("R12").next().unwrap();
    assert_eq!(piece.view.next, "clear 4 of 9");
}

#[test]
fn a_coat_that_a_second_finisher_logged_first_is_told_and_nothing_is_added() {
    let (bench, _) = Bench::morning();
    let now = bench.at("2026-03-12 10:44");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.scan("R3");
    desk.keys("c");
    let mut other = desk.ledger();
    let mut who = who("CD");
    who.station = "S2".to_owned();
    let request = DeedRequest::new(who, rack("R3"), coat(Some(3)), Moment(now.0 - 60_000));
    assert!(matches!(
        other.log(&request, &stamp(now)).unwrap(),
        Outcome::Saved(_)
    ));
    let newest = other.head().unwrap().0;
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Taken);
    assert!(
        desk.text()
            .contains("coat 2 already logged 10:43 by CD at S2"),
        "{}",
        desk.text()
    );
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Floor);
    assert_eq!(other.head().unwrap().0, newest);
    // The other answer: it is one more coat.
    desk.scan("R3");
    desk.keys("c");
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Taken, "{}", desk.note());
    desk.keys("a");
    assert_eq!(desk.model.mode(), Mode::Why, "{}", desk.note());
    assert_eq!(other.head().unwrap().0, newest + 1);
}

#[test]
fn a_coat_soon_after_the_last_one_is_the_same_unless_it_is_said_to_be_another() {
    let mut desk = Desk::morning();
    let newest = desk.ledger().head().unwrap().0;
    desk.scan("R3");
    desk.keys("c");
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Same);
    assert!(
        desk.text()
            .contains("coat 1 was logged 08:20 by AB: the same coat, or another?")
    );
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Floor);
    assert_eq!(desk.ledger().head().unwrap().0, newest);
    desk.scan("R3");
    desk.keys("c");
    desk.key(Key::Enter);
    desk.keys("a");
    assert_eq!(desk.model.mode(), Mode::Why, "{}", desk.note());
    assert_eq!(desk.ledger().head().unwrap().0, newest + 1);
}

#[test]
fn initials_are_asked_once_and_then_known() {
    let (bench, now) = Bench::morning();
    let mut desk = Desk::sit(bench, now, None);
    desk.scan("R12");
    desk.keys("c");
    assert_eq!(desk.model.mode(), Mode::Initials);
    desk.keys("C D");
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Initials);
    assert!(desk.note().contains("\"C D\" is not taken"));
    desk.key(Key::Backspace);
    desk.key(Key::Backspace);
    desk.keys("D");
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Confirm);
    assert_eq!(desk.model.person.as_deref(), Some("CD"));
    desk.key(Key::Esc);
    desk.scan("R3");
    desk.keys("c");
    assert_eq!(desk.model.mode(), Mode::Confirm);
}

#[test]
fn a_draft_outlives_the_program_and_is_offered_again() {
    let (bench, _) = Bench::morning();
    let now = bench.at("2026-03-12 10:44");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.scan("R3");
    desk.keys("c");
    desk.keys("q");
    assert_eq!(desk.model.mode(), Mode::Quit);
    desk.key(Key::Enter);
    assert!(desk.quit);
    let mut desk = desk.restart(None);
    assert_eq!(desk.model.mode(), Mode::Fate);
    let line = "Rack R3 - clear coat 2 - 12 pieces - ended 10:44 - mix 3";
    assert!(
        desk.text()
            .contains(&format!("not saved: {line} - re-enter?")),
        "{}",
        desk.text()
    );
    desk.key(Key::Enter);
    assert_eq!(desk.model.log().unwrap().plan().unwrap().line, line);
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Receipt);
    let desk = desk.restart(Some("AB"));
    assert_eq!(desk.model.mode(), Mode::Floor);
    assert_eq!(desk.note(), "");
}

#[test]
fn a_dropped_draft_is_not_offered_again() {
    let mut desk = Desk::morning();
    desk.scan("R3");
    desk.keys("c");
    desk.key(Key::Esc);
    assert_eq!(desk.restart(Some("AB")).model.mode(), Mode::Floor);
}

#[test]
fn an_error_is_a_message_and_the_draft_is_kept() {
    let mut desk = Desk::morning();
    desk.scan("R12");
    desk.keys("c");
    let line = desk.model.log().unwrap().plan().unwrap().line.clone();
    let effects = update(&mut desk.model, Msg::Key(Key::Enter));
    assert!(matches!(effects.as_slice(), [Effect::Save(_)]));
    desk.tell(Msg::Saved(Err("the disk is full".to_owned())));
    assert_eq!(desk.model.mode(), Mode::Confirm);
    assert!(desk.text().contains("! the disk is full"));
    assert_eq!(desk.model.log().unwrap().plan().unwrap().line, line);
    desk.keys("m");
    desk.keys("9999");
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Minutes);
    assert!(desk.note().contains("outside 0 to 1440"));
}

#[test]
fn a_piece_that_is_scanned_while_its_rack_is_open_was_not_worked_on() {
    let (bench, _) = Bench::morning();
    let now = bench.at("2026-03-12 10:44");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.scan("R3");
    desk.keys("c");
    desk.scan("R3");
    assert_eq!(desk.model.mode(), Mode::Confirm);
    assert!(desk.note().contains("read twice"));
    desk.scan("n0209");
    let log = desk.model.log().unwrap();
    assert_eq!(log.skipped, ["N0209"]);
    assert!(log.plan().unwrap().line.contains("11 pieces"));
    desk.scan("N0209");
    assert!(desk.model.log().unwrap().skipped.is_empty());
    // Half a serial, and a serial that nobody knows, change nothing.
    for text in ["N02", "X9999"] {
        desk.scan(text);
        assert!(
            desk.note().contains("nothing in process is called"),
            "{}",
            desk.note()
        );
        assert_eq!(desk.model.mode(), Mode::Confirm);
    }
    desk.scan("R12");
    assert_eq!(
        desk.model.log().unwrap().target,
        Target::Rack("R12".to_owned(), None)
    );
    assert_eq!(desk.model.mode(), Mode::Choose);
}

#[test]
fn a_scan_never_answers_a_question() {
    let mut desk = Desk::morning();
    desk.keys("u");
    desk.scan("R12");
    assert_eq!(desk.model.mode(), Mode::Undo);
    assert!(desk.note().contains("answer the question first"));
}

#[test]
fn a_capital_or_a_digit_begins_the_scan_line_and_small_letters_act() {
    let mut desk = Desk::morning();
    desk.keys("T4");
    assert_eq!(
        (desk.model.mode(), desk.model.scan.as_str()),
        (Mode::Scan, "T4")
    );
    desk.key(Key::Esc);
    desk.keys("t");
    assert_eq!(desk.model.as_of, AsOf::EndOfToday);
    desk.keys("412");
    desk.key(Key::Enter);
    assert!(matches!(desk.model.stack.last(), Some(Page::Card(c)) if c.serial == "B0412"));
    desk.key(Key::Esc);
    desk.keys("B04x");
    desk.key(Key::Enter);
    assert_eq!(desk.model.scan, "B04x");
    desk.key(Key::Esc);
    desk.keys("q");
    assert!(desk.quit);
}

#[test]
fn time_ahead_changes_the_question_and_no_deed() {
    let mut desk = Desk::morning();
    assert_eq!(desk.model.floor.count(Outlook::Ready), 4);
    desk.keys("t");
    assert_eq!(desk.model.floor.count(Outlook::Ready), 29);
    assert!(desk.text().contains("as of Thu 12 Mar 17:00"));
    let now = desk.model.now;
    desk.scan("B0420");
    desk.keys("c");
    assert_eq!(desk.model.log().unwrap().opened, now);
    assert!(
        desk.model
            .log()
            .unwrap()
            .plan()
            .unwrap()
            .line
            .contains("ended 09:44")
    );
}

#[test]
fn filters_and_order_keep_the_mark_on_its_piece() {
    let mut desk = Desk::morning();
    for _ in 0..11 {
        desk.key(Key::Down);
    }
    let marked = desk.model.floor.marked().unwrap().now.piece.serial.clone();
    assert_eq!(marked, "B0420");
    desk.key(Key::Tab);
    assert_eq!(desk.model.floor.which, Which::Only(Outlook::Ready));
    assert_eq!(desk.model.floor.marked().unwrap().now.piece.serial, marked);
    desk.key(Key::BackTab);
    desk.keys("o");
    assert_eq!(desk.model.floor.marked().unwrap().now.piece.serial, marked);
    desk.keys("/parlour");
    assert_eq!(desk.model.floor.rows.len(), 3);
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Floor);
    desk.key(Key::Esc);
    assert_eq!(desk.model.floor.rows.len(), 33);
}

#[test]
fn a_stale_answer_is_dropped_and_a_new_minute_asks_again() {
    let mut desk = Desk::morning();
    let old = desk.model.floor_ticket;
    desk.tell(Msg::Changed);
    desk.tell(Msg::Floor(old, Err("an old answer".to_owned())));
    assert_eq!(desk.note(), "");
    let same = Msg::Now(Moment(desk.model.now.0 + 30_000));
    assert!(update(&mut desk.model, same).is_empty());
    let next = Msg::Now(Moment(desk.model.now.0 + 30_000));
    assert!(matches!(
        update(&mut desk.model, next).as_slice(),
        [Effect::LoadFloor { .. }]
    ));
}

#[test]
fn the_next_steps_other_work_is_logged_and_a_coat_is_not_taken_for_it() {
    let mut desk = Desk::morning();
    desk.scan("B0430");
    desk.keys("w");
    assert!(
        desk.model
            .log()
            .unwrap()
            .plan()
            .unwrap()
            .line
            .contains("receive")
    );
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Receipt, "{}", desk.note());
    desk.scan("B0412");
    desk.keys("w");
    assert_eq!(desk.model.mode(), Mode::Card);
    assert!(
        desk.note()
            .contains("the next step is clear 5 of 9: press c")
    );
}

#[test]
fn another_mix_is_chosen_and_none_is_one_of_them() {
    let mut desk = Desk::morning();
    desk.scan("R3");
    desk.keys("c");
    let mix = |d: &Desk| d.model.log().unwrap().mix;
    assert_eq!(mix(&desk), Some(3));
    desk.keys("]");
    assert_eq!(mix(&desk), Some(3));
    desk.keys("[");
    assert_eq!(mix(&desk), Some(2));
    desk.keys("[[[");
    assert_eq!(mix(&desk), None);
    assert!(desk.text().contains("no mix is named"));
}

#[test]
fn what_stands_on_a_card_comes_from_the_record() {
    let mut desk = Desk::morning();
    desk.size(110, 110);
    desk.scan("B0412");
    let text = desk.text();
    for wanted in [
        "recipe G9 rev 3",
        "due Fri 17 Apr 2026",
        "taken back by 267",
        "level-sand, P400  SK  written 08:47",
        "whole: film 64 um predicted, 107 um at the end: in the band 75",
        "No phone, tablet, hand scanner",
        "ask: ",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
    let (bench, now) = {
        let (mut bench, now) = Bench::morning();
        let at = bench.at("2026-03-12 07:00");
        let request = DeedRequest::new(
            who("AB"),
            piece("B0416"),
            hangtime::ledger::DeedWhat::Other(hangtime::shop::record::Fact::Note {
                text: "seen before".to_owned(),
            }),
            at,
        );
        bench.ledger.log(&request, &stamp(now)).unwrap();
        (bench, now)
    };
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.size(110, 110);
    desk.scan("B0416");
    assert!(desk.text().contains("written late"), "{}", desk.text());
}

#[test]
fn k_shows_how_a_card_s_figures_were_made_and_the_card_again() {
    let (bench, _) = Bench::morning();
    let now = bench.at("2026-03-12 10:44");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.scan("N0207");
    let card = desk.text();
    desk.key(Key::Char('k'));
    let working = desk.text();
    assert!(working.contains("film of N0207"), "{working}");
    // The same figure as the ledger keeps: this neck was read with a gauge.
    let kept = desk.ledger().piece("N0207", now).unwrap().film_nm();
    assert!(
        working.contains(&format!("film: {}.{} um", kept / 1_000, kept % 1_000 / 100)),
        "{working}"
    );
    desk.key(Key::Char('k'));
    assert_eq!(desk.text(), card);
}

#[test]
fn a_hold_is_lifted_on_the_card_with_a_word_and_the_pin_where_one_is_set() {
    let mut desk = Desk::morning();
    desk.scan("B0412");
    desk.keys("l");
    assert!(
        desk.note().contains("B0412 is not on hold"),
        "{}",
        desk.note()
    );
    desk.key(Key::Esc);
    let mut ledger = desk.ledger();
    let now = desk.model.now;
    let (boss, stamp) = (crate::shop::who("MB"), crate::shop::stamp(now));
    ledger
        .choose_pin("MB", Some("830472"), &boss, None, &stamp)
        .unwrap();
    desk.scan("B0416");
    desk.keys("l");
    assert_eq!(desk.model.mode(), Mode::Word);
    desk.key(Key::Enter);
    assert!(desk.note().contains("the word is empty"), "{}", desk.note());
    desk.keys("sanded out");
    desk.key(Key::Enter);
    // The finisher's own initials stand there; they have no PIN for it.
    desk.key(Key::Enter);
    assert!(
        desk.note().contains("AB has none for it"),
        "{}",
        desk.note()
    );
    desk.key(Key::Backspace);
    desk.key(Key::Backspace);
    desk.keys("MB");
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Pin, "{}", desk.note());
    desk.keys("830473");
    assert!(
        desk.text().contains("PIN of MB? ******_"),
        "{}",
        desk.text()
    );
    assert!(!desk.text().contains("830473"));
    desk.key(Key::Enter);
    assert!(
        desk.note().contains("that is not the PIN of MB"),
        "{}",
        desk.note()
    );
    desk.key(Key::Enter);
    // A keypad that types as fast as a scanner.
    desk.tell(Msg::Burst("830472".to_owned()));
    assert!(
        desk.note().contains("hold of B0416 lifted; PIN given"),
        "{}",
        desk.note()
    );
    assert_eq!(desk.model.mode(), Mode::Card);
    later(&mut desk, 1);
    assert!(!desk.text().contains("- on hold: dent"), "{}", desk.text());
    let entries = desk.ledger().entries(Some("B0416")).unwrap();
    let lifted = entries.last().unwrap();
    assert_eq!(
        (lifted.person.as_str(), lifted.writer.as_str()),
        ("MB", "AB")
    );
}

#[test]
fn a_deviation_is_answered_on_the_card_without_a_pin_while_none_is_set() {
    let mut desk = Desk::morning();
    desk.scan("B0416");
    desk.keys("c");
    desk.key(Key::Enter);
    desk.key(Key::Enter);
    desk.scan("B0416");
    desk.keys("a");
    assert_eq!(desk.model.mode(), Mode::Word, "{}", desk.note());
    desk.keys("seen, goes on");
    desk.key(Key::Enter);
    desk.key(Key::Enter);
    assert!(
        desk.note().contains("answered; no PIN is set"),
        "{}",
        desk.note()
    );
    let answered = desk.ledger().deviations(true).unwrap();
    assert!(
        answered
            .iter()
            .any(|d| d.serial == "B0416" && d.answer.is_some())
    );
}

#[test]
fn the_floor_of_a_ledger_whose_newest_entry_lies_ahead_doubts_the_clock() {
    use hangtime::clock::Clock;
    use hangtime::ledger::{Ledger, NewShop, Stamp};
    use hangtime::screens::store::Store;
    let folder = tempfile::tempdir().unwrap();
    let shop = NewShop {
        name: "Bench and hook".to_owned(),
        zone: "America/New_York".to_owned(),
        day_start: 6,
        demo: false,
    };
    for (hours, doubted) in [(0, false), (1, true)] {
        let path = folder.path().join(format!("{hours}.ledger"));
        let stamp = Stamp {
            written: Moment(Clock::system().now().0 + hours * 3_600_000),
            clock: "system",
            boot_ms: None,
        };
        let ledger = Ledger::create(&path, &shop, &who("JD"), &stamp).unwrap();
        let mut store = Store::new(ledger, Clock::system(), "S1");
        let asked = Effect::LoadFloor {
            ticket: 1,
            at: Clock::system().now(),
        };
        let Some(Msg::Floor(1, Ok(floor))) = store.answer(asked) else {
            panic!("no floor came");
        };
        assert_eq!(floor.doubted.is_some(), doubted, "{:?}", floor.doubted);
    }
}

#[test]
fn nothing_is_saved_on_a_screen_that_is_too_small_to_show_it() {
    let (bench, _) = Bench::morning();
    let now = bench.at("2026-03-12 10:44");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    let before = desk.ledger().last_action(None).unwrap().unwrap().seq;
    desk.scan("R3");
    desk.keys("c");
    desk.size(20, 5);
    desk.key(Key::Enter);
    assert!(desk.note().contains("too small to show"), "{}", desk.note());
    assert_eq!(
        desk.ledger().last_action(None).unwrap().unwrap().seq,
        before
    );
    desk.size(80, 24);
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Receipt);
}
