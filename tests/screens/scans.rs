//! A shift with nothing but a scanner: every message is the content of a tag.

use crate::desk::Desk;
use crate::shop::Bench;
use hangtime::screens::keys::{Key, Mode};
use hangtime::screens::model::Read;
use hangtime::screens::msg::{Flood, Msg};
use hangtime::screens::places::Place;
use hangtime::shop::control::Control;
use hangtime::shop::words::Defect;
use hangtime::units::{Moment, Volume};

/// Makes the newest scan one of a second ago: a hand needs so long, and the desk's clock stands.
fn pause(desk: &mut Desk) {
    if let Some(Read { at, .. }) = &mut desk.model.read {
        *at = Moment(at.0 - 1_000);
    }
}

fn control(desk: &mut Desk, control: &Control) {
    pause(desk);
    desk.scan(&control.code());
}

fn at(time: &str, person: Option<&str>) -> Desk {
    let (bench, _) = Bench::morning();
    let now = bench.at(time);
    Desk::sit(bench, now, person)
}

#[test]
fn a_coat_is_logged_with_its_minutes_and_taken_back_by_scans_alone() {
    let mut desk = at("2026-03-12 10:44", None);
    control(&mut desk, &Control::By("DP".to_owned()));
    assert_eq!(desk.model.person.as_deref(), Some("DP"));
    desk.scan("R3");
    control(&mut desk, &Control::Coat);
    control(&mut desk, &Control::Ago(10));
    assert_eq!(
        desk.model.log().unwrap().plan().unwrap().line,
        "Rack R3 - clear coat 2 - 12 pieces - ended 10:34 - mix 3"
    );
    control(&mut desk, &Control::Confirm);
    assert_eq!(desk.model.mode(), Mode::Receipt, "{}", desk.note());
    let saved = desk.ledger().last_action(None).unwrap().unwrap();
    assert_eq!((saved.deed.as_str(), saved.person.as_str()), ("coat", "DP"));
    control(&mut desk, &Control::Confirm);
    assert_eq!(desk.model.mode(), Mode::Floor);
    control(&mut desk, &Control::Undo);
    assert_eq!(desk.model.mode(), Mode::Undo);
    control(&mut desk, &Control::Confirm);
    let undone = desk.ledger().last_action(None).unwrap().unwrap();
    assert!(undone.seq > saved.seq);
    let neck = desk.model.floor.on_rack("R3").next().unwrap();
    assert_eq!(neck.view.next, "clear 2 of 6");
}

#[test]
fn a_piece_is_left_out_a_second_coat_is_told_and_a_deviation_gets_its_reason() {
    let mut desk = at("2026-03-12 10:44", Some("AB"));
    let skipped = {
        let first = desk.model.floor.on_rack("R3").next().unwrap();
        first.now.piece.serial.clone()
    };
    desk.scan("R3");
    control(&mut desk, &Control::Coat);
    desk.scan(&skipped);
    control(&mut desk, &Control::Confirm);
    let saved = desk.ledger().last_action(None).unwrap().unwrap();
    assert_eq!(desk.ledger().action(saved.seq).unwrap().1.len(), 11);
    // The same rack, read once more: it is the same coat unless somebody says another.
    desk.scan("R3");
    control(&mut desk, &Control::Coat);
    desk.scan(&skipped);
    control(&mut desk, &Control::Confirm);
    let later = desk.ledger().last_action(None).unwrap().unwrap();
    assert_eq!(later.seq, saved.seq, "nothing was added");
    control(&mut desk, &Control::Confirm);

    desk.scan("B0416");
    control(&mut desk, &Control::Coat);
    control(&mut desk, &Control::Confirm);
    assert_eq!(desk.model.mode(), Mode::Why, "{}", desk.note());
    let repair = Control::of("HTWHY3").unwrap();
    control(&mut desk, &repair);
    let reasons: Vec<_> = desk.ledger().deviations(false).unwrap();
    assert!(
        reasons
            .iter()
            .any(|d| d.reason.as_deref() == Some("repair"))
    );
}

#[test]
fn a_control_that_does_not_belong_says_so_and_changes_nothing() {
    let mut desk = Desk::morning();
    let before = desk.ledger().last_action(None).unwrap().map(|a| a.seq);
    for (control, wanted) in [
        (Control::Confirm, "nothing is shown that could be saved"),
        (Control::Coat, "of what? scan a rack or a piece first"),
        (Control::Ago(5), "scan a rack or a piece first"),
        (Control::Everyone, "belongs to no question here"),
        (Control::Another, "belongs to no question here"),
        (Control::Mix(3), "scan a rack or a piece first"),
        (Control::Mix(99), "mix 99 was not made"),
    ] {
        desk.scan(&control.code());
        assert!(desk.note().contains(wanted), "{control:?}: {}", desk.note());
        assert_eq!(desk.model.mode(), Mode::Floor);
    }
    // Another control does not jump over a question.
    desk.scan("R3");
    control(&mut desk, &Control::Coat);
    control(&mut desk, &Control::Booth);
    assert!(desk.note().contains("a draft is open"), "{}", desk.note());
    assert_eq!(desk.model.mode(), Mode::Confirm);
    control(&mut desk, &Control::Leave);
    assert_eq!(
        desk.ledger().last_action(None).unwrap().map(|a| a.seq),
        before
    );
}

#[test]
fn a_terminal_is_handed_over_walked_through_and_left_by_scans() {
    let mut desk = Desk::morning();
    control(&mut desk, &Control::Booth);
    assert_eq!(desk.model.place, Place::Booth);
    control(&mut desk, &Control::Shift);
    assert_eq!(desk.model.place, Place::Shift);
    control(&mut desk, &Control::By("DP".to_owned()));
    assert_eq!(desk.note(), "DP is at the terminal");
    control(&mut desk, &Control::Floor);
    assert_eq!(desk.model.place, Place::Floor);
    control(&mut desk, &Control::Quit);
    assert!(desk.quit);
}

#[test]
fn half_a_scan_before_a_control_is_gone_with_it() {
    let mut desk = Desk::morning();
    desk.keys("R1");
    control(&mut desk, &Control::Booth);
    assert_eq!(desk.model.scan, "");
    assert_eq!(desk.model.place, Place::Booth);
}

#[test]
fn a_defect_is_written_down_by_two_scans_and_a_third_saves_it() {
    let mut desk = at("2026-03-12 10:44", Some("AB"));
    control(&mut desk, &Control::Flaw(Defect::Run));
    assert_eq!(desk.note(), "scan the piece first, then its defect");
    desk.scan("B0412");
    control(&mut desk, &Control::Flaw(Defect::Run));
    assert_eq!(desk.model.mode(), Mode::Confirm, "{}", desk.note());
    control(&mut desk, &Control::Confirm);
    let seen = desk.ledger().piece("B0412", desk.model.now).unwrap();
    assert_eq!(seen.now.flaws.len(), 1);
    assert_eq!(seen.now.flaws[0].defect, Defect::Run);
    // On its receipt the next defect follows at once.
    control(&mut desk, &Control::Flaw(Defect::Dirt));
    control(&mut desk, &Control::Confirm);
    let seen = desk.ledger().piece("B0412", desk.model.now).unwrap();
    assert_eq!(seen.now.flaws.len(), 2);
}

#[test]
fn a_tag_that_one_pull_of_the_trigger_reads_twice_is_taken_once() {
    let mut desk = at("2026-03-12 10:44", Some("AB"));
    desk.scan("R3");
    control(&mut desk, &Control::Coat);
    // A piece that was left out stays out, until a hand takes it along again.
    desk.scan("N0209");
    desk.scan("N0209");
    assert_eq!(desk.note(), "\"N0209\" was read twice; it was taken once");
    assert_eq!(desk.model.log().unwrap().skipped, ["N0209"]);
    pause(&mut desk);
    desk.scan("N0209");
    assert!(desk.model.log().unwrap().skipped.is_empty());
    // The receipt stays until it was read.
    control(&mut desk, &Control::Confirm);
    desk.scan(&Control::Confirm.code());
    assert_eq!(desk.model.mode(), Mode::Receipt, "{}", desk.note());
    // One undo is asked about once.
    control(&mut desk, &Control::Undo);
    desk.scan(&Control::Undo.code());
    assert_eq!(desk.model.mode(), Mode::Undo);
    control(&mut desk, &Control::Confirm);
    assert_eq!(desk.model.mode(), Mode::Floor, "{}", desk.note());
    // What came of the first one stays to be read.
    assert!(desk.note().contains("is taken back"), "{}", desk.note());
    desk.scan(&Control::Confirm.code());
    assert!(desk.note().contains("is taken back"), "{}", desk.note());
    // A key in between is a hand.
    desk.scan("R3");
    desk.keys("c");
    desk.scan("R3");
    assert_eq!(desk.note(), "Rack R3 was read twice; it is open already");
}

#[test]
fn half_a_tag_presses_no_keys_and_waits_where_text_is_typed() {
    let half = |desk: &mut Desk, text: &str| desk.tell(Msg::Half(text.to_owned()));
    let mut desk = at("2026-03-12 10:44", Some("AB"));
    // On every place it waits on the scan line, whatever its letters do there.
    for place in [Key::F(2), Key::F(3), Key::F(4), Key::F(5), Key::F(8)] {
        desk.key(place);
        half(&mut desk, "n02");
        assert_eq!(desk.model.scan, "n02", "{place:?}");
        assert_eq!(desk.model.mode(), Mode::Scan);
        desk.key(Key::Esc);
    }
    desk.scan("R3");
    half(&mut desk, "d41");
    assert_eq!(desk.model.mode(), Mode::Choose);
    control(&mut desk, &Control::Coat);
    let line = |desk: &Desk| desk.model.log().unwrap().plan().unwrap().line.clone();
    let before = line(&desk);
    half(&mut desk, "B-0412");
    assert_eq!(
        desk.note(),
        "half a tag was read, \"B-0412\"; nothing came of it, read it again"
    );
    assert_eq!(line(&desk), before);
    control(&mut desk, &Control::Confirm);
    control(&mut desk, &Control::Confirm);
    // Fast typing into a field is typing.
    desk.keys("i");
    half(&mut desk, "DPR");
    assert!(
        desk.text().contains("your initials? DPR_"),
        "{}",
        desk.text()
    );
}

#[test]
fn a_number_that_comes_at_once_is_the_amount_that_was_asked_for() {
    let mut desk = at("2026-03-12 10:44", Some("AB"));
    desk.scan("R3");
    control(&mut desk, &Control::Coat);
    let amount = |desk: &Desk| desk.model.log().unwrap().amount;
    // Asked for and not given is no coat without an amount yet.
    desk.keys("a");
    desk.key(Key::Enter);
    assert_eq!(
        desk.note(),
        "no amount was typed: a asks for it again, Enter saves without one"
    );
    assert!(desk.model.log().unwrap().plan().is_some());
    desk.keys("a");
    desk.tell(Msg::Half("120".to_owned()));
    assert_eq!(amount(&desk), Some(Volume(120_000)));
    // With the mark of another number pad, too.
    desk.keys("a0,5");
    assert_eq!(amount(&desk), Some(Volume(500)));
    // A half tag is none.
    desk.keys("a");
    desk.tell(Msg::Half("B-04".to_owned()));
    assert_eq!(
        desk.note(),
        "half a tag was read, \"B-04\"; nothing came of it, read it again"
    );
}

#[test]
fn what_is_pasted_waits_where_text_is_typed_and_does_nothing_by_itself() {
    let paste = |desk: &mut Desk, text: &str| desk.tell(Msg::Pasted(text.to_owned()));
    let mut desk = at("2026-03-12 10:44", Some("AB"));
    let before = desk.ledger().head().unwrap();
    // On a place it waits on the scan line as one line, whatever its lines would do.
    paste(&mut desk, "R3\nu\n");
    assert_eq!(desk.model.scan, "R3 u");
    assert_eq!(desk.model.mode(), Mode::Scan);
    desk.key(Key::Esc);
    // Over a draft no key is pressed by it.
    desk.scan("R3");
    control(&mut desk, &Control::Coat);
    assert_eq!(desk.model.mode(), Mode::Confirm);
    paste(&mut desk, "\r\r");
    assert_eq!(desk.model.mode(), Mode::Confirm);
    assert_eq!(
        desk.note(),
        "nothing of what was pasted was taken: no text is typed here"
    );
    desk.key(Key::Esc);
    // Into a field it is typed.
    desk.keys("i");
    paste(&mut desk, "DPR\r");
    assert!(
        desk.text().contains("your initials? DPR_"),
        "{}",
        desk.text()
    );
    assert_eq!(desk.ledger().head().unwrap(), before);
}

#[test]
fn what_is_longer_than_its_line_is_said_and_nothing_of_it_is_taken() {
    let mut desk = at("2026-03-12 10:44", Some("AB"));
    let long = "W".repeat(41);
    let said = "41 characters came at once, and the line takes 40; nothing of them was taken";
    for msg in [Msg::Pasted(long.clone()), Msg::Half(long.clone())] {
        desk.tell(msg);
        assert_eq!(desk.note(), said);
        assert_eq!(desk.model.scan, "");
    }
    desk.keys("i");
    for msg in [
        Msg::Pasted(long.clone()),
        Msg::Half(long.clone()),
        Msg::Burst(long),
    ] {
        desk.tell(msg);
        assert_eq!(desk.note(), said);
        assert!(desk.text().contains("your initials? _"), "{}", desk.text());
    }
    // What is there already takes its room.
    desk.tell(Msg::Pasted("W".repeat(40)));
    desk.tell(Msg::Pasted("X".to_owned()));
    assert_eq!(
        desk.note(),
        "1 characters came at once, and the line takes 0; nothing of them was taken"
    );
    for (flood, said) in [
        (
            Flood::Pasted,
            "9000 characters were pasted, more than 400; nothing of them was taken",
        ),
        (
            Flood::Unended,
            "a paste began and its end did not come; nothing of its 9000 characters was taken",
        ),
        (
            Flood::Keys,
            "9000 keys came without a pause, more than 1000; nothing after their first line was taken",
        ),
    ] {
        desk.tell(Msg::TooMuch(9_000, flood));
        assert_eq!(desk.note(), said);
    }
}

#[test]
fn a_scan_before_the_shop_is_read_is_not_told_that_its_tag_is_unknown() {
    let mut desk = at("2026-03-12 10:44", Some("AB"));
    let read = desk.model.floor.data.take();
    assert!(read.is_some());
    desk.tell(Msg::Burst("R3".to_owned()));
    assert_eq!(
        desk.note(),
        "\"R3\" was not taken: what is in process is not read yet; scan it again"
    );
    // It is read, and so is the tag, sooner than one pull of the trigger reads it twice.
    desk.model.floor.data = read;
    desk.scan("R3");
    assert_eq!(desk.model.mode(), Mode::Choose, "{}", desk.note());
}

#[test]
fn a_tag_that_was_not_taken_is_not_told_to_be_read_twice() {
    let mut desk = at("2026-03-12 10:44", Some("AB"));
    desk.key(Key::F(1));
    for unknown in ["XX9", "XX9"] {
        desk.tell(Msg::Burst(unknown.to_owned()));
        assert!(!desk.note().contains("twice"), "{}", desk.note());
    }
    desk.scan("R3");
    control(&mut desk, &Control::Coat);
    desk.keys("m");
    for _ in 0..2 {
        desk.tell(Msg::Burst("R4".to_owned()));
        assert_eq!(
            desk.note(),
            "\"R4\" was not taken: answer the question first"
        );
    }
}
