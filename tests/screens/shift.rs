//! The shift: what it shows, and the supervisor's deeds by their keys.

use crate::counted::{Presses, stand_in_the_guide};
use crate::desk::{COLOUR, Desk};
use crate::shop::{Bench, piece, stamp, who};
use hangtime::ledger::{DeedRequest, DeedWhat};
use hangtime::reports::racks::racks;
use hangtime::reports::ready::judged;
use hangtime::screens::ask::About;
use hangtime::screens::keys::{Key, Mode};
use hangtime::screens::model::{AsOf, Asking, Page, Row};
use hangtime::screens::msg::Msg;
use hangtime::screens::theme::{Form, Theme};
use hangtime::shop::record::Fact;
use hangtime::shop::words::{Outlook, StepKind, Word};
use hangtime::units::Moment;

const PIN: &str = "830472";

/// The morning of the small shop for its supervisor: a sanding that came too early awaits a word, MB has a PIN, and the
/// recipe has a newer revision.
fn bench() -> (Bench, Moment) {
    let (mut b, now) = Bench::morning();
    let sand = DeedWhat::Sand {
        kind: None,
        removed: None,
        grit: Some("P400".to_owned()),
    };
    b.deed(piece("B0412"), sand, "2026-03-12 09:20", "SK");
    let s = stamp(now);
    let text = std::fs::read_to_string(
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample/recipes/g9.toml"),
    )
    .unwrap();
    let newer = text.replacen("revision = 3", "revision = 4", 1);
    b.ledger
        .adopt_recipe("g9.toml", &newer, &who("MB"), &s)
        .unwrap();
    b.ledger
        .choose_pin("MB", Some(PIN), &who("MB"), None, &s)
        .unwrap();
    (b, now)
}

fn desk() -> Desk {
    let (bench, now) = bench();
    let mut desk = Desk::sit(bench, now, Some("MB"));
    desk.key(Key::F(4));
    assert_eq!(desk.model.mode(), Mode::Shift);
    desk
}

/// Goes to the part and the row that hold these words.
fn mark(desk: &mut Desk, part: &str, row: &str) {
    for _ in 0..7 {
        if desk.text().contains(&format!("[{part} ")) {
            break;
        }
        desk.key(Key::Tab);
    }
    assert!(
        desk.text().contains(&format!("[{part} ")),
        "{}",
        desk.text()
    );
    for _ in 0..40 {
        let text = desk.text();
        if text
            .lines()
            .skip(8)
            .any(|l| l.starts_with('▸') && l.contains(row))
        {
            return;
        }
        desk.key(Key::Down);
    }
    panic!("no row {row} in part {part}\n{}", desk.text());
}

enum Press {
    Key(Key),
    /// A text: it is typed by hand or comes from a scanner, and is not counted.
    Text(&'static str),
}

use Press::Text;

const fn key(c: char) -> Press {
    Press::Key(Key::Char(c))
}

const ENTER: Press = Press::Key(Key::Enter);

type Done = fn(&Desk) -> bool;

fn seen<'a>(desk: &'a Desk, serial: &str) -> &'a hangtime::ledger::Seen {
    let all = desk.model.floor.seen();
    all.iter().find(|s| s.now.piece.serial == serial).unwrap()
}

fn hangs<'a>(desk: &'a Desk, serial: &str) -> (Option<&'a str>, Option<&'a str>) {
    let place = seen(desk, serial).now.place().unwrap();
    (place.rack.as_deref(), place.room.as_deref())
}

/// A task: its name, the part and row of its mark or else the text of its scan, its keys, what has come of it.
type Task = (
    &'static str,
    Option<(&'static str, &'static str)>,
    &'static str,
    Vec<Press>,
    Done,
);

#[test]
fn no_task_of_the_supervisor_takes_more_than_three_keys_after_the_mark_or_the_scan() {
    let lifted: Done = |d| seen(d, "B0416").now.holds.is_empty();
    let answered: Done = |d| d.ledger().deviations(false).unwrap().len() == 1;
    let rack_held: Done = |d| d.model.floor.on_rack("R3").all(|s| !s.now.holds.is_empty());
    let split: Done = |d| hangs(d, "B0416").0 == Some("R12B") && hangs(d, "B0411").0 == Some("R12");
    let moved: Done = |d| hangs(d, "N0205").1 == Some("cure room");
    let loose: Done = |d| hangs(d, "B0430").0 == Some("R3");
    let newer: Done = |d| {
        let on = |s: &hangtime::ledger::Seen| s.now.piece.revision;
        d.model.floor.on_rack("R12").all(|s| on(s) == 4)
    };
    let printed: Done = |d| d.note().starts_with("written to be printed: ");
    let tasks: Vec<Task> = vec![
        (
            "lift, marked",
            Some(("held", "B0416")),
            "",
            vec![key('l'), Text("sanded out"), ENTER, Text(PIN), ENTER],
            lifted,
        ),
        (
            "lift, scanned",
            None,
            "B0416",
            vec![key('l'), Text("sanded out"), ENTER, Text(PIN), ENTER],
            lifted,
        ),
        (
            "answer, marked",
            Some(("deviations", "B0412")),
            "",
            vec![key('a'), Text("seen"), ENTER, Text(PIN), ENTER],
            answered,
        ),
        (
            "answer, scanned",
            None,
            "B0412",
            vec![key('a'), Text("seen"), ENTER, Text(PIN), ENTER],
            answered,
        ),
        (
            "hold a rack, marked",
            Some(("work", "R3")),
            "",
            vec![key('h'), Text("run on all"), ENTER, ENTER],
            rack_held,
        ),
        (
            "hold a rack, scanned",
            None,
            "R3",
            vec![key('h'), Text("run on all"), ENTER, ENTER],
            rack_held,
        ),
        (
            "split, marked",
            Some(("work", "B0416 held")),
            "",
            vec![key('x'), Text("R12B"), ENTER, ENTER],
            split,
        ),
        (
            "split, scanned",
            None,
            "R12",
            vec![key('x'), Text("R12B"), ENTER, ENTER],
            split,
        ),
        (
            "split, scanned piece on its card",
            None,
            "B0416",
            vec![key('v'), Text("rack R12B"), ENTER, ENTER],
            split,
        ),
        (
            "move a rack to a room, marked",
            Some(("work", "R3")),
            "",
            vec![key('v'), Text("room cure room"), ENTER, ENTER],
            moved,
        ),
        (
            "move a rack to a room, scanned",
            None,
            "R3",
            vec![key('v'), Text("room cure room"), ENTER, ENTER],
            moved,
        ),
        (
            "hang a loose piece on a rack",
            Some(("work", "B0430")),
            "",
            vec![key('v'), Text("r3 hook 20"), ENTER, ENTER],
            loose,
        ),
        (
            "reassign, marked",
            Some(("work", "R12")),
            "",
            vec![key('r'), Text("4 new lacquer"), ENTER, ENTER],
            newer,
        ),
        (
            "reassign, scanned",
            None,
            "R12",
            vec![key('r'), Text("g9 4 new lacquer"), ENTER, ENTER],
            newer,
        ),
        ("print", Some(("work", "R3")), "", vec![key('p')], printed),
        (
            "tomorrow morning",
            Some(("work", "R3")),
            "",
            vec![key('n'), Text("tomorrow 07:00"), ENTER],
            |d| d.text().contains("as of Fri 13 Mar 07:00"),
        ),
        (
            "the end of today",
            Some(("work", "R3")),
            "",
            vec![key('t')],
            |d| d.text().contains("as of Thu 12 Mar 17:00"),
        ),
        (
            "hold a piece, scanned by last digits",
            None,
            "207",
            vec![key('h'), Text("cold check"), ENTER, ENTER],
            |d| !seen(d, "N0207").now.holds.is_empty(),
        ),
    ];
    let mut table = Vec::new();
    for (name, at, scan, presses, done) in tasks {
        let mut desk = desk();
        match at {
            Some((part, row)) => mark(&mut desk, part, row),
            None => desk.scan(scan),
        }
        assert!(!done(&desk), "{name}: done before");
        let mut way = Presses::at(&mut desk);
        for press in &presses {
            match press {
                Press::Key(k) => way.key(*k),
                Text(text) => way.type_in(text),
            };
        }
        table.push(way.row("supervisor", name));
        // The ledger's clock ran on while the deed was written.
        let now = Moment(desk.model.now.0 + 1_000);
        let said = desk.model.note.clone();
        desk.tell(Msg::Now(now));
        desk.tell(Msg::Changed);
        desk.model.note = said;
        assert!(done(&desk), "{name}: {}\n{}", desk.note(), desk.text());
    }
    stand_in_the_guide("supervisor", &table);
}

#[test]
fn the_shift_reads_at_four_sizes() {
    let mut desk = desk();
    mark(&mut desk, "work", "B0416 held");
    for (columns, rows) in [(60, 16), (80, 24), (120, 40), (250, 70)] {
        desk.size(columns, rows);
        insta::assert_snapshot!(format!("shift_{columns}x{rows}"), desk.snapshot());
    }
}

#[test]
fn every_part_can_be_stepped_to_and_enter_opens_what_the_mark_is_on() {
    let mut desk = desk();
    let mut parts = Vec::new();
    for _ in 0..7 {
        let text = desk.text();
        let open = text.split_once('[').unwrap().1;
        parts.push(open.split_once(' ').unwrap().0.to_owned());
        desk.key(Key::Tab);
    }
    assert_eq!(
        parts,
        [
            "work",
            "behind",
            "held",
            "deviations",
            "half-done",
            "pairs",
            "rooms"
        ]
    );
    assert!(desk.text().contains("[work "), "Tab comes round again");
    desk.key(Key::BackTab);
    assert!(desk.text().contains("[rooms "));
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Shift);
    assert!(
        desk.note().contains("a room has no page"),
        "{}",
        desk.note()
    );
    mark(&mut desk, "deviations", "order");
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Card);
    desk.key(Key::Esc);
    assert_eq!(desk.model.mode(), Mode::Shift);
    mark(&mut desk, "work", "R3");
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Choose);
    desk.key(Key::Esc);
    desk.key(Key::Esc);
    assert_eq!(desk.model.mode(), Mode::Floor);
}

#[test]
fn an_answer_that_cannot_be_taken_is_blamed_and_stays_on_the_line() {
    // The keys, what is typed, what is said of it.
    let cases = [
        ('h', "", "why is empty"),
        (
            'v',
            "R77",
            "no rack and no room is called \"R77\"; write \"rack R77\"",
        ),
        ('v', "R12 hook 3", "a hook is for one piece"),
        ('x', "R3", "they hang on rack R3 already"),
        ('x', "R9 hooks 9-2", "hooks \" 9-2\" is not understood"),
        ('r', "4", "why is empty"),
        ('r', "new lacquer", "write the revision and why"),
        ('r', "77 new lacquer", "rev 77 is not adopted"),
        ('n', "soon", "\"soon\""),
    ];
    for (key, typed, said) in cases {
        let mut desk = desk();
        mark(&mut desk, "work", "R3");
        desk.key(Key::Char(key));
        desk.keys(typed);
        desk.key(Key::Enter);
        assert_eq!(desk.model.mode(), Mode::Ask, "{key} {typed}");
        assert!(desk.note().contains(said), "{key} {typed}: {}", desk.note());
        let Some(Page::Ask(asked)) = desk.model.stack.last() else {
            panic!("{key} {typed}: the question is gone");
        };
        assert_eq!(asked.typed, typed);
        let before = desk.ledger().last_action(None).unwrap().unwrap().seq;
        desk.key(Key::Esc);
        assert_eq!(desk.model.mode(), Mode::Shift);
        let after = desk.ledger().last_action(None).unwrap().unwrap().seq;
        assert_eq!(before, after, "{key} {typed} saved something");
    }
}

#[test]
fn what_would_be_saved_is_shown_first_and_esc_goes_back_to_what_was_typed() {
    let mut desk = desk();
    mark(&mut desk, "work", "R12");
    desk.keys("r4 new lacquer");
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Agree, "{}", desk.note());
    let text = desk.text();
    for wanted in [
        "Rack R12 - ",
        "16 pieces - ended 09:44",
        "pieces go over from G9 rev 3 to G9 rev 4: B0410, B0411",
        "until now: clear 5 of 9",
        "Enter saves what is shown",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
    desk.key(Key::End);
    assert!(
        desk.text().contains("nothing behind changes"),
        "{}",
        desk.text()
    );
    desk.key(Key::Esc);
    assert_eq!(desk.model.mode(), Mode::Ask);
    assert!(desk.text().contains("4 new lacquer_"), "{}", desk.text());
    desk.key(Key::Esc);
    assert_eq!(desk.model.mode(), Mode::Shift);
    assert!(
        desk.model
            .floor
            .on_rack("R12")
            .all(|s| s.now.piece.revision == 3)
    );
    // Nothing is offered again at the next start.
    let desk = desk.restart(Some("MB"));
    assert_eq!((desk.model.mode(), desk.note().as_str()), (Mode::Floor, ""));
}

#[test]
fn the_pieces_of_a_split_are_named_before_it_is_saved() {
    let mut desk = desk();
    mark(&mut desk, "work", "R3");
    desk.keys("x");
    assert!(desk.text().contains("split R3: to which rack, which hooks"));
    desk.keys("R3B hooks 11-12");
    desk.key(Key::Enter);
    let text = desk.text();
    assert!(
        text.contains("Rack R3 hooks 11-12 - moved to new rack R3B, hooks kept - 2 pieces"),
        "{text}"
    );
    assert!(
        text.contains("N0215 (R3 hook 11), N0216 (R3 hook 12)"),
        "{text}"
    );
    desk.key(Key::Enter);
    assert!(
        desk.note().starts_with("saved: Rack R3 hooks 11-12"),
        "{}",
        desk.note()
    );
    assert_eq!(desk.model.floor.on_rack("R3B").count(), 2);
    // What was saved is taken back by the same key as everywhere.
    desk.keys("u");
    desk.key(Key::Enter);
    assert_eq!(
        desk.model.floor.on_rack("R3").count(),
        12,
        "{}",
        desk.note()
    );
}

#[test]
fn a_shop_without_pieces_has_a_shift_that_says_so() {
    let bench = Bench::new();
    let now = bench.at("2026-03-12 06:45");
    let mut desk = Desk::sit(bench, now, Some("MB"));
    desk.key(Key::F(4));
    for (columns, rows) in [(40, 8), (60, 16), (80, 24), (250, 70)] {
        desk.size(columns, rows);
        assert!(
            desk.text().contains("no piece in process has a next step"),
            "{}",
            desk.text()
        );
    }
    desk.size(80, 24);
    for key in "lhaxvr".chars() {
        desk.key(Key::Char(key));
        assert_eq!(desk.model.mode(), Mode::Shift, "{key}");
        assert!(desk.note().contains("mark"), "{key}: {}", desk.note());
    }
}

#[test]
fn a_deed_that_was_shown_and_not_saved_is_named_at_the_next_start() {
    let mut desk = desk();
    mark(&mut desk, "work", "R3");
    desk.keys("hrun on all");
    desk.key(Key::Enter);
    let desk = desk.restart(Some("MB"));
    assert!(
        desk.note().starts_with("not saved: Rack R3 - "),
        "{}",
        desk.note()
    );
}

#[test]
fn whose_word_it_is_is_asked_of_everyone_but_a_supervisor() {
    let (bench, now) = bench();
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(4));
    mark(&mut desk, "held", "B0416");
    desk.keys("lsanded out");
    desk.key(Key::Enter);
    let asking = |d: &Desk| match d.model.stack.last() {
        Some(Page::Word(spoken)) => Some((spoken.asking, spoken.initials.clone())),
        _ => None,
    };
    assert_eq!(asking(&desk), Some((Asking::Initials, "AB".to_owned())));
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
    desk.keys("111111");
    desk.key(Key::Enter);
    assert_eq!(
        asking(&desk),
        Some((Asking::Initials, "MB".to_owned())),
        "the word stays"
    );
    desk.key(Key::Enter);
    desk.keys(PIN);
    desk.key(Key::Enter);
    assert_eq!(desk.note(), "hold of B0416 lifted; PIN given");
}

#[test]
fn a_deed_of_nobody_asks_for_initials_and_then_goes_on() {
    let (bench, now) = bench();
    let mut desk = Desk::sit(bench, now, None);
    desk.key(Key::F(4));
    mark(&mut desk, "work", "R3");
    desk.keys("h");
    assert_eq!(desk.model.mode(), Mode::Initials);
    desk.keys("MB");
    desk.key(Key::Enter);
    let Some(Page::Ask(asked)) = desk.model.stack.last() else {
        panic!("{}", desk.text());
    };
    assert!(matches!(&asked.about, About::Hold(target) if *target == crate::shop::rack("R3")));
}

#[test]
fn a_typed_moment_holds_until_t_and_deeds_take_the_present_one() {
    let mut desk = desk();
    desk.keys("ntomorrow 07:00");
    desk.key(Key::Enter);
    assert!(matches!(desk.model.as_of, AsOf::At(_)));
    let text = desk.text();
    assert!(text.contains("then  by 12:00  by 15:30"), "{text}");
    assert!(text.contains("as of Fri 13 Mar 07:00"), "{text}");
    mark(&mut desk, "work", "R3");
    desk.keys("hcold check");
    desk.key(Key::Enter);
    assert!(desk.text().contains("ended 09:44"), "{}", desk.text());
    desk.key(Key::Esc);
    desk.key(Key::Esc);
    desk.keys("t");
    assert_eq!(desk.model.as_of, AsOf::Now);
}

#[test]
fn the_counts_are_those_of_the_question_what_is_ready() {
    let mut desk = desk();
    let text = desk.text();
    let count = |text: &str, work: &str| -> Vec<usize> {
        let row = text
            .lines()
            .find(|l| l.trim_start().starts_with(work))
            .unwrap();
        let words = row.split_whitespace().skip(1).take(4);
        words
            .map(|w| w.trim_start_matches('~').parse().unwrap())
            .collect()
    };
    // Coat 5 of R12 is open to twelve bodies from 10:35 and to those that skipped coat 4; R3's second coat from 09:50.
    let coats = count(&text, "coat");
    let ready = |d: &Desk| {
        let wets = |s: &&hangtime::ledger::Seen| s.view.kind.is_some_and(StepKind::wets);
        let all = d.model.floor.seen().iter().filter(wets);
        all.filter(|s| s.view.outlook == Outlook::Ready).count()
    };
    assert_eq!(coats[0], ready(&desk));
    assert!(coats[1] > coats[0], "{text}");
    desk.keys("ntoday 12:00");
    desk.key(Key::Enter);
    let noon = count(&desk.text(), "coat");
    assert_eq!(
        (noon[0], ready(&desk)),
        (coats[1], coats[1]),
        "{}",
        desk.text()
    );
}

#[test]
fn a_text_and_an_outlook_filter_the_rows_and_esc_drops_the_text() {
    let mut desk = desk();
    desk.keys("/cittern");
    desk.key(Key::Enter);
    let text = desk.text();
    assert!(
        text.contains("line 1 of 1") && text.contains("find \"cittern\""),
        "{text}"
    );
    desk.key(Key::Esc);
    assert_eq!(desk.model.mode(), Mode::Shift);
    assert!(desk.text().contains("of 4"), "{}", desk.text());
    desk.keys("ff");
    assert!(desk.text().contains("only waiting"), "{}", desk.text());
    assert!(desk.text().contains("line 1 of 2"), "{}", desk.text());
    // A rack with a held piece is judged by the others; the piece itself is listed among the held ones.
    desk.keys("f");
    assert!(desk.text().contains("only held"), "{}", desk.text());
}

#[test]
fn the_floor_the_shift_and_the_list_of_racks_judge_a_rack_alike() {
    let desk = desk();
    let at = desk.model.now;
    let seen = desk.model.floor.seen().to_vec();
    let calendar = desk.model.shop.calendar;
    let heads: Vec<(String, Outlook)> = desk
        .model
        .floor
        .rows
        .iter()
        .filter_map(|row| match row {
            Row::Rack(head) if !head.rack.is_empty() => Some((head.rack.clone(), head.outlook)),
            _ => None,
        })
        .collect();
    assert!(heads.len() > 1, "{heads:?}");
    for (rack, outlook) in heads {
        let pieces: Vec<_> = seen
            .iter()
            .filter(|s| s.rack() == Some(rack.as_str()))
            .collect();
        assert_eq!(judged(&pieces).outlook, outlook, "{rack}");
        let listed = racks(&seen, at, &calendar);
        let listed = listed.iter().find(|r| r.name == rack).unwrap();
        assert!(
            !listed.outlook.contains("not ready as a whole"),
            "{}",
            listed.outlook
        );
        let told = if outlook == Outlook::Ready {
            "ready since "
        } else {
            " from "
        };
        assert!(listed.outlook.contains(told), "{}", listed.outlook);
        assert!(
            desk.text()
                .contains(&format!("{rack:<6}{}", outlook.word()))
                || desk
                    .text()
                    .lines()
                    .any(|l| l.contains(&rack) && l.contains(outlook.word())),
            "{}",
            desk.text()
        );
    }
}

#[test]
fn the_mark_stays_on_its_row_when_another_terminal_brings_one_above_it() {
    let mut desk = desk();
    mark(&mut desk, "held", "B0416");
    assert_eq!(desk.model.places.shift.mark, 0);
    let fact = Fact::Held {
        why: "run at the edge".to_owned(),
    };
    let now = desk.model.now;
    let request = DeedRequest::new(who("SK"), piece("B0411"), DeedWhat::Other(fact), now);
    desk.ledger().log(&request, &stamp(now)).unwrap();
    desk.tell(Msg::Changed);
    assert_eq!(desk.model.places.shift.mark, 1);
    let text = desk.text();
    let marked = text.lines().find(|l| l.starts_with('▸')).unwrap();
    assert!(marked.contains("B0416"), "{text}");
    desk.keys("l");
    assert!(desk.text().contains("lift the hold of B0416, why?"));
}

#[test]
fn the_page_for_the_hook_board_says_what_the_command_prints() {
    let mut desk = desk();
    desk.keys("p");
    let said = desk.note();
    let file = said.strip_prefix("written to be printed: ").unwrap();
    assert!(
        file.ends_with("shop.day-list-2026-03-12-0944.txt"),
        "{file}"
    );
    let page = std::fs::read_to_string(file).unwrap();
    assert!(
        page.starts_with("DEMO\nThree Gables finish room\nThe day's list at Thu 12 Mar 09:44"),
        "{page}"
    );
    let list = desk.model.places.shift.list.as_ref().unwrap();
    let lines = hangtime::reports::day_list::lines(list, &desk.model.shop.calendar);
    assert!(page.ends_with(&(lines.join("\n") + "\n")), "{page}");
    assert!(page.contains("recipe time reached, check by hand"));
    assert!(page.contains("[ ] coat   R12  "), "{page}");
}

#[test]
fn the_shift_reads_without_colour_and_without_utf8() {
    let mut desk = desk();
    desk.model.shop.theme = Theme {
        form: Form::Plain,
        shapes: false,
    };
    for _ in 0..7 {
        let text = desk.text();
        assert!(text.is_ascii(), "{text}");
        assert!(text.contains("ready: recipe time reached, check by hand"));
        assert!(text.contains("\n>"), "the mark has a shape\n{text}");
        desk.key(Key::Tab);
        if desk.text().contains("[behind or queued 0]") || desk.text().contains("[pairs 0") {
            desk.key(Key::Tab);
        }
    }
    desk.model.shop.theme = COLOUR;
}

#[test]
fn no_word_of_the_marked_row_has_the_colour_of_its_ground() {
    for form in [Form::Dark, Form::Light, Form::Contrast] {
        let mut desk = desk();
        desk.model.shop.theme = Theme { form, shapes: true };
        mark(&mut desk, "work", "◔ waiting");
        let marked = |desk: &Desk| {
            let buffer = desk.buffer();
            let rows = crate::desk::rows(&buffer);
            let y = rows.iter().position(|r| r.starts_with('▸')).unwrap();
            assert!(rows[y].contains("waiting"), "{}", rows[y]);
            for x in 0..80 {
                let cell = buffer.cell((x, u16::try_from(y).unwrap())).unwrap();
                let blank = cell.symbol() == " ";
                assert!(blank || cell.fg != cell.bg, "{form:?} {x}: {}", rows[y]);
            }
        };
        marked(&desk);
        desk.key(Key::F(3));
        desk.key(Key::Down);
        marked(&desk);
    }
}

#[test]
fn by_a_clock_that_nobody_confirmed_nothing_is_counted_as_ready() {
    let mut desk = desk();
    let seen = &mut desk.model.floor.data.as_mut().unwrap().seen;
    let seen = std::sync::Arc::make_mut(seen).iter_mut();
    for s in seen.filter(|s| s.view.outlook == Outlook::Ready) {
        let view = std::sync::Arc::make_mut(&mut s.view);
        view.outlook = Outlook::Unknown;
        view.ready_at = None;
    }
    // The list is made of what the floor says, wherever that comes from.
    let floor = desk.model.floor.data.clone().unwrap();
    let ticket = desk.model.floor_ticket;
    desk.tell(Msg::Floor(ticket, Ok(Box::new(floor))));
    let list = desk.model.places.shift.list.as_ref().unwrap();
    assert!(list.counts.iter().all(|c| c.now == 0));
    assert!(desk.text().contains("? unknown "), "{}", desk.text());
}

#[test]
fn the_reason_of_the_marked_row_is_said_in_full_at_80x24() {
    let mut desk = desk();
    desk.size(80, 24);
    for part in ["deviations", "held", "work"] {
        while !desk.text().contains(&format!("[{part} ")) {
            desk.key(Key::Tab);
        }
        for _ in 0..4 {
            let state = &desk.model.places.shift;
            let rows = state.list.as_ref().unwrap().rows(state.part());
            let row = rows[state.mark.min(rows.len() - 1)].text.clone();
            let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
            let text = desk.text();
            assert!(flat(&text).contains(&flat(&row)), "{row}\n{text}");
            desk.key(Key::Down);
        }
    }
}
