//! The solvent book: what it shows, the way from a total to an entry and back, and the safety lead's deeds by their keys.

use crate::counted::{Presses, stand_in_the_guide};
use crate::desk::Desk;
use crate::shop::{Bench, stamp, who};
use hangtime::ledger::{Ledger, Months};
use hangtime::reports::book::{self, Of, Way};
use hangtime::reports::checks::Kind;
use hangtime::reports::limits::NewLimit;
use hangtime::science::worksheet::Side;
use hangtime::screens::keys::{Key, Mode};
use hangtime::screens::model::{Asking, Note, Page};
use hangtime::screens::msg::Msg;
use hangtime::screens::places::Place;
use hangtime::screens::places::solvent::{Shown, rows};
use hangtime::shop::record::BoothSeen;
use hangtime::shop::words::Role;
use hangtime::units::{Mass, Moment, System};
use std::path::PathBuf;
use std::process::Command;
use std::sync::OnceLock;

/// The sample shop, loaded once by the program itself and then copied.
fn sample() -> Bench {
    static LOADED: OnceLock<(tempfile::TempDir, PathBuf)> = OnceLock::new();
    let (_, loaded) = LOADED.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("sample.ledger");
        let done = Command::new(env!("CARGO_BIN_EXE_hangtime"))
            .env_clear()
            .env("HOME", folder.path())
            .args(["--ledger", path.to_str().unwrap(), "sample"])
            .output()
            .unwrap();
        assert!(done.status.success(), "{done:?}");
        (folder, path)
    });
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sample.ledger");
    for end in ["", ".witness"] {
        let name = |p: &std::path::Path| PathBuf::from(format!("{}{end}", p.display()));
        std::fs::copy(name(loaded), name(&path)).unwrap();
    }
    Bench {
        ledger: Ledger::open(&path).unwrap(),
        folder,
    }
}

/// The same with limits of three kinds and intervals of the checks.
fn limited() -> Bench {
    let mut b = sample();
    let at = stamp(b.at("2026-03-24 06:30"));
    let toluene = Of::read(&b.ledger, "toluene").unwrap();
    let limits = [
        NewLimit::solvent(&Of::Voc, false, "20kg"),
        NewLimit::solvent(&toluene, false, "2kg"),
        NewLimit::solvent(&Of::Voc, true, "200kg"),
        NewLimit::every(Kind::Check, "booth 1", "24h"),
        NewLimit::every(Kind::Survey, "booth 1", "14d"),
    ];
    for limit in limits {
        limit
            .unwrap()
            .enter(&mut b.ledger, "permit 12-34, invented", &who("MK"), &at)
            .unwrap();
    }
    b
}

fn desk_at(bench: Bench, at: &str) -> Desk {
    let now = bench.at(at);
    let mut desk = Desk::sit(bench, now, Some("SL"));
    desk.key(Key::F(5));
    desk
}

fn morning(bench: Bench) -> Desk {
    desk_at(bench, "2026-03-24 06:45")
}

fn way(desk: &Desk) -> String {
    desk.model
        .places
        .solvent
        .way
        .as_ref()
        .map_or_else(String::new, Way::words)
}

#[test]
fn the_book_and_its_levels_read_at_four_sizes() {
    let mut desk = morning(limited());
    for (columns, rows) in [(60, 16), (80, 24), (120, 40), (250, 70)] {
        desk.size(columns, rows);
        insta::assert_snapshot!(format!("book_{columns}x{rows}"), desk.snapshot());
    }
    for (level, (columns, rows)) in [(1, (80, 24)), (2, (80, 24)), (3, (120, 40)), (4, (80, 24))] {
        desk.key(Key::Enter);
        desk.size(columns, rows);
        insta::assert_snapshot!(format!("level_{level}_{columns}x{rows}"), desk.snapshot());
    }
}

#[test]
fn without_colour_and_without_utf8_every_side_still_has_its_word_and_its_sign() {
    let mut desk = morning(limited());
    desk.model.shop.theme = hangtime::screens::theme::Theme {
        form: hangtime::screens::theme::Form::Plain,
        shapes: false,
    };
    let text = desk.text();
    assert!(text.is_ascii(), "{text}");
    for words in ["< under", "> over", "? unknown", "- none entered"] {
        assert!(text.contains(words), "{words}\n{text}");
    }
}

#[test]
fn a_share_of_a_limit_that_is_reached_has_a_word_at_every_width() {
    let mut bench = sample();
    let at = stamp(bench.at("2026-03-24 06:30"));
    // 12.80 kg of 15 are 85 %.
    NewLimit::solvent(&Of::Voc, false, "15kg")
        .and_then(|l| l.with(&["80%".to_owned(), "95%".to_owned()], None))
        .unwrap()
        .enter(&mut bench.ledger, "permit 12-34, invented", &who("MK"), &at)
        .unwrap();
    let mut desk = morning(bench);
    for (columns, rows) in [(60, 16), (80, 24), (120, 40), (250, 70)] {
        desk.size(columns, rows);
        let text = desk.text();
        assert!(text.contains("warning: 80 % reached"), "{columns}: {text}");
        assert!(text.contains("< under"), "{columns}: {text}");
    }
}

#[test]
fn the_book_has_one_line_for_what_is_ahead() {
    // The sample's record is three weeks old; a week later there is a rate.
    let mut desk = morning(sample());
    assert!(
        desk.text().contains("VOC, 12 months: no forecast yet"),
        "{}",
        desk.text()
    );
    desk = desk_at(sample(), "2026-03-31 06:45");
    desk.size(120, 40);
    let text = desk.text();
    // 11.43 kg in the 28 days after the first: 149 kg in a year of such days; the months before the record are unknown.
    let said = "VOC, 12 months: 0.41 kg/day (28 days), 180kg not by 31 Mar 2028, by what is known, at most 6668 coats left";
    assert!(text.contains(said), "{text}");
}

// Every line of every level, from a figure of the book down to the entries' workings.
fn walk(ledger: &Ledger, way: &Way, above: Mass) -> usize {
    let level = book::open(ledger, way, System::Metric).unwrap();
    assert_eq!(level.total, above, "{}", way.words());
    assert_eq!(level.missing(), 0, "{}", way.words());
    if let Some(working) = &level.working {
        assert!(working.unknown.is_empty(), "{:?}", working.unknown);
        return 1;
    }
    let sum: i64 = level.rows.iter().map(|r| r.mass.0).sum();
    assert_eq!(sum, above.0, "{}", way.words());
    if way.lot.is_some() {
        // One entry of each lot is opened on its worksheets; the sum above holds all of them.
        let first = &level.rows[0];
        return walk(ledger, &first.way, first.mass) + level.rows.len() - 1;
    }
    level
        .rows
        .iter()
        .map(|r| walk(ledger, &r.way, r.mass))
        .sum()
}

#[test]
fn every_level_of_the_sample_month_adds_up_to_the_last_milligram() {
    let bench = sample();
    let at = bench.at("2026-03-24 06:45");
    let book = book::book(&bench.ledger, "2026-03", at).unwrap();
    let kept = bench.ledger.month("2026-03").unwrap();
    assert_eq!(book.month[0].mass, kept.totals.voc);
    assert_eq!(book.month[1].mass, kept.totals.hap);
    assert!(kept.totals.voc.0 > 12_000_000);
    assert!(book.month.len() >= 5);
    for (figures, months) in [
        (&book.month, Months::one("2026-03").unwrap()),
        (&book.rolling, Months::twelve("2026-03").unwrap()),
    ] {
        for figure in figures {
            let way = Way::of(figure.of.clone(), months.clone());
            let entries = walk(&bench.ledger, &way, figure.mass);
            if figure.of == Of::Voc {
                let used = bench.ledger.used_in_month("2026-03").unwrap();
                assert_eq!(entries, used.len());
            }
        }
    }
}

#[test]
fn enter_goes_down_to_the_working_of_an_entry_and_esc_comes_back_by_the_same_marks() {
    let mut desk = morning(sample());
    desk.key(Key::Enter);
    assert_eq!(way(&desk), "VOC, 2026-03");
    assert!(
        desk.text()
            .contains("sum of the lines 12800.380 g = the figure above")
    );
    desk.key(Key::Down);
    desk.key(Key::Up);
    desk.key(Key::Enter);
    assert_eq!(way(&desk), "VOC, 2026-03, CLR sheet rev 4");
    for _ in 0..2 {
        desk.key(Key::Down);
    }
    desk.key(Key::Enter);
    assert_eq!(
        way(&desk),
        "VOC, 2026-03, CLR sheet rev 4, lot L-221 in mix 4"
    );
    desk.key(Key::PageDown);
    let before = desk.model.places.solvent.mark;
    assert!(before > 10);
    desk.key(Key::Enter);
    let text = desk.text();
    assert!(text.contains(", entry "), "{text}");
    assert!(text.contains("bound to sheet rev 4 of CLR"), "{text}");
    assert!(
        text.contains("substance-mass") || text.contains("solvent-sum"),
        "{text}"
    );
    desk.key(Key::End);
    let Some(Shown::Level(_, working)) = desk.model.places.solvent.page() else {
        panic!("no working is shown");
    };
    let last = working.last().unwrap().trim().to_owned();
    let first_words: String = last.chars().take(30).collect();
    assert!(
        desk.text().contains(&first_words),
        "{last}\n{}",
        desk.text()
    );
    desk.key(Key::Esc);
    assert_eq!(desk.model.places.solvent.mark, before);
    desk.key(Key::Esc);
    assert_eq!(desk.model.places.solvent.mark, 2);
    desk.key(Key::Esc);
    desk.key(Key::Esc);
    assert_eq!(way(&desk), "");
    assert_eq!(desk.model.place, Place::Solvent);
    desk.key(Key::Esc);
    assert_eq!(desk.model.place, Place::Floor);
}

#[test]
fn one_key_turns_the_month_and_one_changes_to_twelve() {
    let mut desk = morning(sample());
    desk.keys("[");
    assert!(
        desk.text().contains("2026-02  not signed"),
        "{}",
        desk.text()
    );
    assert!(desk.text().contains("it lies before the record"));
    desk.keys("]]");
    assert!(
        desk.note().contains("2026-04 has not begun"),
        "{}",
        desk.note()
    );
    desk.keys("t");
    desk.key(Key::Enter);
    assert_eq!(way(&desk), "VOC, twelve months to 2026-03");
    desk.keys("t");
    assert_eq!(way(&desk), "VOC, 2026-03");
    desk.keys("[");
    assert_eq!(way(&desk), "VOC, 2026-02");
    assert!(
        desk.text()
            .contains("nothing of it is logged in these months")
    );
}

#[test]
fn nothing_is_judged_against_a_limit_that_nobody_entered() {
    let bench = sample();
    let at = bench.at("2026-03-24 06:45");
    let book = book::book(&bench.ledger, "2026-03", at).unwrap();
    let judged = |list: &[book::Figure]| -> Vec<(String, Side)> {
        list.iter()
            .filter(|f| f.side != Side::NoneEntered || f.margin().is_some())
            .map(|f| (f.of.name(), f.side))
            .collect()
    };
    let named = |list: &[(&str, Side)]| -> Vec<(String, Side)> {
        list.iter()
            .map(|(of, side)| ((*of).to_owned(), *side))
            .collect()
    };
    // The sample's own limits: of a month for two figures, of twelve months for one. Nothing is held against another.
    assert_eq!(
        judged(&book.month),
        named(&[("VOC", Side::Under), ("HAP total", Side::Under)])
    );
    assert_eq!(judged(&book.rolling), named(&[("VOC", Side::Unknown)]));
    assert!(book.month.len() > 2 && book.rolling.len() > 1);
}

#[test]
fn a_figure_meets_its_limit_to_the_milligram_and_months_before_the_record_leave_it_unknown() {
    let mut bench = sample();
    let at = bench.at("2026-03-24 06:45");
    let voc = bench.ledger.month("2026-03").unwrap().totals.voc.0;
    let sides = |bench: &Bench| {
        let book = book::book(&bench.ledger, "2026-03", at).unwrap();
        (
            book.month[0].side,
            book.rolling[0].side,
            book.month[0].margin_words(System::Metric),
        )
    };
    let mut enter = |value: i64| {
        for rolling in [false, true] {
            let mg = format!("{}.{:06}kg", value / 1_000_000, value % 1_000_000);
            NewLimit::solvent(&Of::Voc, rolling, &mg)
                .unwrap()
                .enter(&mut bench.ledger, "test", &who("MK"), &stamp(at))
                .unwrap();
        }
        sides(&bench)
    };
    let (month, rolling, words) = enter(voc + 1);
    assert_eq!((month, rolling), (Side::Under, Side::Unknown));
    assert_eq!(words, "0.00 kg left");
    let (month, rolling, words) = enter(voc);
    assert_eq!((month, rolling), (Side::At, Side::Unknown));
    assert_eq!(words, "nothing left");
    let (month, rolling, words) = enter(voc - 1);
    assert_eq!((month, rolling), (Side::Over, Side::Over));
    assert_eq!(words, "0.01 kg over");
}

fn with_pin(bench: &mut Bench) {
    let at = stamp(bench.at("2026-03-24 06:20"));
    bench
        .ledger
        .employ("SL", Some(Role::SafetyLead), true, &who("MK"), &at)
        .unwrap();
    bench
        .ledger
        .choose_pin("SL", Some("481516"), &who("SL"), None, &at)
        .unwrap();
}

fn mark_on(desk: &mut Desk, wanted: &str) {
    desk.key(Key::Home);
    for _ in 0..40 {
        let text = desk.text();
        let marked = text
            .lines()
            .find(|l| l.starts_with('▸'))
            .unwrap_or_default();
        if marked.contains(wanted) {
            return;
        }
        desk.key(Key::Down);
    }
    panic!("{wanted} is not marked\n{}", desk.text());
}

#[test]
fn each_task_of_the_safety_lead_takes_three_keys_at_most_after_the_mark() {
    let mut bench = limited();
    with_pin(&mut bench);
    let folder = tempfile::tempdir().unwrap();
    let (file, copy) = (folder.path().join("page.txt"), folder.path().join("copy"));
    let mut desk = desk_at(bench, "2026-04-02 09:00");
    desk.keys("[");
    let mut table: Vec<String> = Vec::new();
    let role = "safety lead";

    // The receipt.
    let mut p = Presses::at(&mut desk);
    p.char('r')
        .type_in("L-250 CLR 20 L 2027-01-31")
        .key(Key::Enter);
    table.push(p.row(role, "receipt"));
    assert_eq!(desk.note(), "lot L-250 of CLR received: 20.00 L");
    assert!(
        desk.ledger()
            .lots()
            .unwrap()
            .iter()
            .any(|l| l.lot == "L-250")
    );

    // A count of the stock, and what went into a waste drum.
    let mut p = Presses::at(&mut desk);
    p.char('s').type_in("CLR 180 L").key(Key::Enter);
    table.push(p.row(role, "count of the stock"));
    assert_eq!(desk.note(), "180.00 L of CLR counted, closes no month");
    let at = Moment(desk.model.now.0 + 3_600_000);
    assert_eq!(desk.ledger().counts(at).unwrap().len(), 1);
    desk.key(Key::Char('w'));
    for c in "W-3 12 L gun wash".chars() {
        desk.key(Key::Char(c));
    }
    desk.key(Key::Enter);
    assert!(
        desk.note().contains("drum \"W-3\" was not started"),
        "{}",
        desk.note()
    );
    desk.key(Key::Esc);
    start_drum(&mut desk, "W-3");
    let mut p = Presses::at(&mut desk);
    p.char('w').type_in("W-3 12 L gun wash").key(Key::Enter);
    table.push(p.row(role, "into the waste drum"));
    assert_eq!(desk.note(), "into drum W-3: gun wash");
    let drum = desk.ledger().drum("W-3").unwrap().unwrap();
    assert_eq!(drum.volume, hangtime::units::Volume(12_000_000));

    // A check of the marked booth.
    mark_on(&mut desk, "booth check");
    let mut p = Presses::at(&mut desk);
    p.char('b').type_in("0.44inwc, fan runs").key(Key::Enter);
    table.push(p.row(role, "booth check"));
    assert_eq!(desk.note(), "booth 1 checked");
    // The clock of a demo runs on while the test types.
    let soon = Moment(desk.model.now.0 + 3_600_000);
    assert_eq!(desk.ledger().last_checks(soon).unwrap().len(), 1);
    // What was typed is a remark, and a check with one is not called done.
    assert!(desk.text().contains("! remark"), "{}", desk.text());

    // A deed that comes round, and what came of an incident, by the marked line.
    mark_on(&mut desk, "eyewash flush");
    assert!(desk.text().contains("> overdue"), "{}", desk.text());
    let mut p = Presses::at(&mut desk);
    p.char('b').type_in("runs clear").key(Key::Enter);
    table.push(p.row(role, "what comes round, done"));
    assert_eq!(desk.note(), "eyewash flush of booth 1 done");
    let later = Moment(desk.model.now.0 + 3_600_000);
    let duties = desk.ledger().duties(later).unwrap();
    let flush = duties.iter().find(|d| d.duty.name == "eyewash flush");
    let newest = flush.unwrap().newest.as_ref().unwrap();
    assert_eq!(newest.note.as_deref(), Some("runs clear"));
    mark_on(&mut desk, "spill");
    let mut p = Presses::at(&mut desk);
    p.char('b')
        .type_in("tray put under, closed")
        .key(Key::Enter);
    table.push(p.row(role, "what came of an incident"));
    assert_eq!(desk.note(), "written down: tray put under");
    assert!(!desk.text().contains("open incidents"), "{}", desk.text());
    assert!(desk.ledger().incidents(later).unwrap()[0].closed);

    // A limit, with the PIN.
    mark_on(&mut desk, "xylenes");
    let mut p = Presses::at(&mut desk);
    p.char('l').type_in("0.9kg, permit 12-34").key(Key::Enter);
    p.type_in("481516").key(Key::Enter);
    table.push(p.row(role, "limit"));
    assert!(desk.note().contains("PIN given"), "{}", desk.note());
    assert!(
        desk.text().contains("of 0.9kg, 0.65 kg left"),
        "{}",
        desk.text()
    );

    // The month: its page first, then the signature with the PIN.
    let mut p = Presses::at(&mut desk);
    p.char('c');
    assert_eq!(p.desk.model.mode(), Mode::Sign);
    assert!(p.desk.text().contains("signed by SL"), "{}", p.desk.text());
    p.key(Key::Enter).type_in("481516").key(Key::Enter);
    table.push(p.row(role, "close month"));
    assert_eq!(desk.note(), "2026-03 is signed by SL; PIN given");
    assert!(
        desk.text().contains("2026-03  signed by SL"),
        "{}",
        desk.text()
    );
    assert_eq!(
        desk.ledger().month_now("2026-03").unwrap().signatures.len(),
        1
    );

    // A signature is not taken back; it says what to do instead.
    let stays = desk.ledger().undo_stays(&who("SL")).unwrap().unwrap();
    assert!(
        stays.contains("(sign) cannot be taken back") && stays.contains("sign the month again"),
        "{stays}"
    );

    // How a figure was made.
    desk.key(Key::Home);
    let mut p = Presses::at(&mut desk);
    p.key(Key::Enter);
    table.push(p.row(role, "what a total is made of"));
    p.key(Key::Enter).key(Key::Enter).key(Key::Enter);
    // From a line of entries, one key to its working; each level is one key.
    assert!(matches!(
        p.desk.model.places.solvent.page(),
        Some(Shown::Level(level, _)) if level.working.is_some()
    ));
    for _ in 0..4 {
        desk.key(Key::Esc);
    }

    // The page as a file, and the whole record.
    let mut p = Presses::at(&mut desk);
    p.char('p');
    if let Some(Page::Book(form)) = p.desk.model.stack.last_mut() {
        form.typed.clear();
    }
    p.type_path(file.to_str().unwrap(), "the file, where another is wanted,")
        .key(Key::Enter);
    table.push(p.row(role, "print"));
    let page = std::fs::read_to_string(&file).unwrap();
    for words in ["DEMO", "signed by SL", "toluene", "head: action"] {
        assert!(page.contains(words), "{words}\n{page}");
    }
    let mut p = Presses::at(&mut desk);
    p.char('x');
    if let Some(Page::Book(form)) = p.desk.model.stack.last_mut() {
        form.typed.clear();
    }
    p.type_path(
        copy.to_str().unwrap(),
        "the folder, where another is wanted,",
    )
    .key(Key::Enter);
    table.push(p.row(role, "export"));
    assert!(copy.join("manifest.json").exists(), "{}", desk.note());

    stand_in_the_guide(role, &table);
}

#[test]
fn what_was_typed_stays_through_an_error_and_nothing_is_half_written() {
    let mut desk = morning(sample());
    let before = desk.ledger().head().unwrap();
    desk.keys("rL-221 CLR");
    assert!(
        desk.text().contains("! the amount, such as 20L"),
        "{}",
        desk.text()
    );
    desk.key(Key::Enter);
    assert_eq!(desk.note(), "not saved: the amount, such as 20L");
    desk.keys(" 20L");
    assert!(
        desk.text().contains("= 20.00 L of CLR as L-221"),
        "{}",
        desk.text()
    );
    desk.key(Key::Enter);
    assert!(
        desk.note().contains("lot L-221 is received already"),
        "{}",
        desk.note()
    );
    assert!(desk.text().contains("L-221 CLR 20L_"), "{}", desk.text());
    desk.key(Key::Esc);
    assert_eq!(desk.ledger().head().unwrap(), before);

    // A file that is there is left alone.
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("there.txt");
    std::fs::write(&file, "mine").unwrap();
    desk.keys("p");
    if let Some(Page::Book(form)) = desk.model.stack.last_mut() {
        form.typed = file.to_str().unwrap().to_owned();
    }
    desk.key(Key::Enter);
    assert!(matches!(desk.model.note, Some(Note::Fault(_))));
    assert_eq!(std::fs::read_to_string(&file).unwrap(), "mine");
}

#[test]
fn a_wrong_pin_asks_again_whose_deed_it_is_and_enters_nothing() {
    let mut bench = sample();
    with_pin(&mut bench);
    let mut desk = morning(bench);
    desk.keys("l19kg, permit");
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Pin);
    desk.keys("111111");
    assert!(!desk.text().contains("111111"));
    desk.key(Key::Enter);
    let Some(Page::Book(form)) = desk.model.stack.last() else {
        panic!("the form is gone");
    };
    assert_eq!(
        (form.asking, form.typed.as_str()),
        (Asking::Initials, "19kg, permit")
    );
    assert!(
        !desk
            .ledger()
            .ceilings()
            .unwrap()
            .iter()
            .any(|l| l.typed == "19kg")
    );
    desk.key(Key::Enter);
    desk.keys("481516");
    desk.key(Key::Enter);
    assert!(
        desk.ledger()
            .ceilings()
            .unwrap()
            .iter()
            .any(|l| l.typed == "19kg")
    );
}

#[test]
fn only_a_month_that_is_over_is_signed_and_only_the_page_that_was_shown() {
    let mut desk = morning(sample());
    desk.keys("c");
    assert!(
        desk.note().contains("2026-03 is not over"),
        "{}",
        desk.note()
    );
    assert_eq!(desk.model.mode(), Mode::Solvent);

    let mut desk = desk_at(sample(), "2026-04-02 09:00");
    desk.keys("[c");
    assert_eq!(desk.model.mode(), Mode::Sign);
    // Somebody writes in between.
    let at = stamp(Moment(desk.model.now.0));
    desk.ledger()
        .record_check(
            "booth 1",
            &BoothSeen::default(),
            at.written,
            &who("JB"),
            &at,
        )
        .unwrap();
    desk.key(Key::Enter);
    assert!(
        desk.note().contains("nothing was signed"),
        "{}",
        desk.note()
    );
    assert!(
        desk.ledger()
            .month_now("2026-03")
            .unwrap()
            .signatures
            .is_empty()
    );
    desk.key(Key::Esc);
    desk.keys("c");
    desk.key(Key::Enter);
    assert_eq!(desk.note(), "2026-03 is signed by SL; no PIN is set");
}

// A waste drum, as the command line starts one.
fn start_drum(desk: &mut Desk, name: &str) {
    let at = desk.model.now;
    desk.ledger()
        .start_drum(
            name,
            "spent thinner",
            None,
            None,
            at,
            &who("SL"),
            &stamp(at),
        )
        .unwrap();
}

#[test]
fn more_used_than_received_is_said_and_leaves_the_month_provisional_until_the_receipt_is_in() {
    let (mut bench, now) = Bench::morning();
    let at = bench.at("2026-03-12 09:30");
    bench
        .ledger
        .receive_lot(
            &hangtime::ledger::NewLot::of("T-9", "THN", hangtime::units::Volume(1_000)),
            at,
            &who("MB"),
            &stamp(at),
        )
        .unwrap();
    let mut desk = Desk::sit(bench, now, Some("SL"));
    desk.size(120, 40);
    desk.key(Key::F(5));
    // The shop's coats name a mix and no amount, so their solvent is in no sum.
    let text = desk.text();
    assert!(text.contains("coats without a known amount"), "{text}");
    let mut coat = crate::shop::coat(None);
    if let hangtime::ledger::DeedWhat::Coat { lot, amount, .. } = &mut coat {
        *lot = Some("T-9".to_owned());
        *amount = Some(hangtime::units::Volume(3_000));
    }
    let mut request =
        hangtime::ledger::DeedRequest::new(who("AB"), crate::shop::piece("B0430"), coat, at);
    request.included = hangtime::ledger::Included::All;
    desk.ledger().log(&request, &stamp(now)).unwrap();
    desk.tell(Msg::Changed);
    desk.size(200, 60);
    let text = desk.text();
    assert!(text.contains("lot T-9 is below zero"), "{text}");
    assert!(text.contains("lot T-9 2 mL below zero"), "{text}");
    assert!(text.contains("below zero: enter the"), "{text}");
    // What is not all known is not under any limit, however high that is.
    let limit = NewLimit::solvent(&Of::Voc, false, "900kg").unwrap();
    let mut ledger = desk.ledger();
    limit
        .enter(&mut ledger, "test", &who("MB"), &stamp(now))
        .unwrap();
    desk.tell(Msg::Changed);
    let Some(Shown::Book(book, beside)) = desk.model.places.solvent.page() else {
        panic!("the book is shown");
    };
    assert_eq!(book.month[0].side, Side::Unknown);
    assert!(rows(book, beside).len() > book.month.len() + book.rolling.len());
}

#[test]
fn a_check_that_was_never_done_is_unknown_and_one_that_is_late_is_overdue() {
    let mut bench = sample();
    let at = stamp(bench.at("2026-03-24 06:30"));
    bench
        .ledger
        .declare_room("booth 2", None, 1_000, &who("MK"), &at)
        .unwrap();
    NewLimit::every(Kind::Check, "booth 2", "24h")
        .unwrap()
        .enter(&mut bench.ledger, "invented", &who("MK"), &at)
        .unwrap();
    let mut desk = morning(bench);
    // The three checks of booth 2 and a fit test are unknown; the eyewash is overdue in the sample.
    let counted = "checks, drums overdue: 1  checks unknown: 4";
    assert!(desk.text().contains(counted), "{}", desk.text());
    drop(desk);
    // The last check of booth 1 was at 07:02 on the day before, to be done every 24 h.
    desk = desk_at(sample(), "2026-03-24 07:01");
    assert!(
        desk.text().contains("checks, drums overdue: 1"),
        "{}",
        desk.text()
    );
    drop(desk);
    desk = desk_at(sample(), "2026-03-24 07:02");
    assert!(
        desk.text().contains("checks, drums overdue: 2"),
        "{}",
        desk.text()
    );
    mark_on(&mut desk, "booth check");
    assert!(desk.text().contains("> overdue"), "{}", desk.text());
}

#[test]
fn a_gauge_reading_is_typed_with_the_check_and_shown_from_the_clean_one_to_the_mark() {
    let mut desk = morning(sample());
    mark_on(&mut desk, "filter gauge");
    assert!(desk.text().contains("clean 0.12"), "{}", desk.text());
    for typed in [
        "0.10inwc new filters",
        "0.20inwc",
        "0.35inwc, fan runs",
        "0.49inwc",
    ] {
        desk.keys("b");
        desk.keys(typed);
        assert!(desk.text().contains("= gauge 0."), "{}", desk.text());
        desk.key(Key::Enter);
    }
    mark_on(&mut desk, "filter gauge");
    desk.keys("l0.40inwc, filter paper");
    desk.key(Key::Enter);
    mark_on(&mut desk, "filter gauge");
    let text = desk.text();
    assert!(text.contains("mark 0.50 in. w.c."), "{text}");
    assert!(text.contains("▁▃▅█"), "{text}");
    desk.size(120, 40);
    insta::assert_snapshot!("gauge_120x40", desk.snapshot());
    desk.keys("b0.50inwc");
    desk.key(Key::Enter);
    assert!(desk.text().contains("> at mark"), "{}", desk.text());
    desk.keys("b0.04inwc");
    desk.key(Key::Enter);
    assert!(desk.text().contains("! too low"), "{}", desk.text());
}

#[test]
fn the_remark_of_a_check_stands_beside_it_and_it_is_not_called_done() {
    let mut desk = morning(sample());
    mark_on(&mut desk, "booth check");
    desk.keys("bFAN NOT RUNNING");
    desk.key(Key::Enter);
    let text = desk.text();
    let words: Vec<&str> = text.split_whitespace().collect();
    let flat = words.join(" ");
    assert!(
        flat.contains("checked, with a remark: FAN NOT RUNNING"),
        "{text}"
    );
    let row = text.lines().find(|l| l.contains("booth check")).unwrap();
    assert!(row.contains("! remark") && !row.contains("done"), "{text}");
    // The clock of a demo runs on while the test types.
    let soon = Moment(desk.model.now.0 + 120_000);
    desk.tell(Msg::Now(soon));
    desk.tell(Msg::Changed);
    desk.key(Key::F(2));
    let text = desk.text();
    assert!(
        text.contains("booth 1: checked 06:45") && text.contains(", with a remark: FAN NOT"),
        "{text}"
    );
    // A long one goes on in the lines below, to its last word.
    desk.key(Key::F(5));
    desk.keys("b");
    desk.keys(&format!("{}at last", "the fan stands ".repeat(5)));
    desk.key(Key::Enter);
    desk.tell(Msg::Now(Moment(soon.0 + 120_000)));
    desk.tell(Msg::Changed);
    desk.key(Key::F(2));
    let text = desk.text();
    let words: Vec<&str> = text.split_whitespace().collect();
    assert!(
        words
            .join(" ")
            .contains("with a remark: the fan stands the fan")
            && text.contains("at last"),
        "{text}"
    );
}

#[test]
fn what_looks_like_a_gauge_reading_and_is_none_is_refused_and_stays_on_the_line() {
    for typed in [
        "booth 1 0.44inwc",
        "44 inwc",
        "44000inwc",
        "fan runs, 0.44 inwc",
    ] {
        let mut desk = morning(sample());
        let soon = Moment(desk.model.now.0 + 3_600_000);
        mark_on(&mut desk, "booth check");
        let before = desk.ledger().last_checks(soon).unwrap();
        desk.keys("b");
        desk.keys(typed);
        desk.key(Key::Enter);
        assert!(
            desk.note().contains("as one word with its unit: 0.44inwc"),
            "{}",
            desk.note()
        );
        assert!(
            desk.text().contains(&format!("{typed}_")),
            "{}",
            desk.text()
        );
        assert_eq!(desk.ledger().last_checks(soon).unwrap(), before);
    }
}

#[test]
fn a_gauge_without_a_unit_is_asked_for_and_a_text_that_is_too_long_is_said() {
    let mut desk = morning(sample());
    mark_on(&mut desk, "booth check");
    let checks = |desk: &Desk| {
        let soon = Moment(desk.model.now.0 + 3_600_000);
        desk.ledger().last_checks(soon).unwrap()
    };
    let before = checks(&desk);
    for typed in ["fan runs, gauge 0.44", "0.44 fan runs", "Gauge: 0.44"] {
        desk.keys("b");
        desk.keys(typed);
        desk.key(Key::Enter);
        assert_eq!(desk.model.mode(), Mode::Book, "{typed}");
        assert!(
            desk.note().contains("gauge 0.44 in which unit?"),
            "{typed}: {}",
            desk.note()
        );
        assert_eq!(checks(&desk), before, "{typed}");
        desk.key(Key::Esc);
    }
    desk.keys("b");
    desk.keys(&"a".repeat(120));
    assert_eq!(desk.note(), "");
    desk.keys("b");
    assert!(
        desk.note().contains("no more than 120 characters fit here"),
        "{}",
        desk.note()
    );
    // A count in words is no reading.
    desk.key(Key::Esc);
    desk.keys("b");
    desk.keys("cleaned 2 nozzles");
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Solvent, "{}", desk.note());
}

#[test]
fn what_comes_round_the_drums_and_the_incidents_stand_on_the_page_and_in_its_head() {
    let mut desk = morning(sample());
    desk.size(120, 70);
    let text = desk.text();
    let head = text.lines().nth(1).unwrap();
    assert!(
        head.contains("checks, drums overdue: 1  checks unknown: 1"),
        "{head}"
    );
    for words in [
        "eyewash flush        > overdue",
        "fit test             ? unknown  never done",
        "extinguisher look    done",
        "W-1       spent thinner, started 2025-10-20, 31.00 L in it, to leave by 2026-04-18",
        "spill     at mixing bench",
        "(open, to be looked at",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
    // What is marked names its source, and how it is written down.
    mark_on(&mut desk, "fit test");
    assert!(
        desk.text()
            .contains("source: invented for the sample; b writes down"),
        "{}",
        desk.text()
    );
    // The drum of the marked line stands in its question already.
    mark_on(&mut desk, "W-1");
    desk.keys("w4L gun wash");
    desk.key(Key::Enter);
    assert_eq!(desk.note(), "into drum W-1: gun wash");
    // Answers are typed in the order in which they are asked; what is left over is a note.
    let now = Moment(desk.model.now.0);
    let mut ledger = desk.ledger();
    let duty = hangtime::shop::duty::Duty {
        name: "drill".to_owned(),
        about: "floor".to_owned(),
        every: Some(hangtime::units::Span::hours(24)),
        in_use: None,
        ahead: hangtime::units::Span::hours(1),
        asks: vec!["all out".to_owned(), "how long".to_owned()],
        source: "test".to_owned(),
        ended: false,
    };
    ledger.set_duty(&duty, &who("MB"), &stamp(now)).unwrap();
    desk.tell(Msg::Changed);
    mark_on(&mut desk, "drill");
    desk.keys("byes, 3 min, door stuck");
    assert!(
        desk.text()
            .contains("= all out: yes; how long: 3 min; door stuck"),
        "{}",
        desk.text()
    );
    desk.key(Key::Enter);
    let duties = desk.ledger().duties(Moment(now.0 + 3_600_000)).unwrap();
    let drill = duties.iter().find(|d| d.duty.name == "drill").unwrap();
    let newest = drill.newest.as_ref().unwrap();
    assert_eq!(
        newest.answers,
        [
            ("all out".to_owned(), "yes".to_owned()),
            ("how long".to_owned(), "3 min".to_owned())
        ]
    );
    assert_eq!(newest.note.as_deref(), Some("door stuck"));
}
