//! The booth and the wall: what they show first, at every size, and each task of the finisher by its keys.

use crate::counted::{Presses, stand_in_the_guide};
use crate::desk::Desk;
use crate::shop::{Bench, coat, piece, rack, stamp, who};
use hangtime::ledger::{DeedWhat, Target};
use hangtime::reports::booth::{AirNow, CheckNow, LeftToday, next, pot_left, rules};
use hangtime::screens::keys::{Key, Mode};
use hangtime::screens::model::Note;
use hangtime::screens::msg::{Effect, Msg};
use hangtime::screens::places::Place;
use hangtime::screens::theme::{Form, Theme};
use hangtime::screens::update::update;
use hangtime::shop::climate::Sample;
use hangtime::shop::recipe::BoothLimits;
use hangtime::shop::record::{CoatMore, Fact, What};
use hangtime::shop::words::{Defect, PieceKind, Rule, StepKind};
use hangtime::units::{Humidity, Moment, Span, Speed, System, Temperature, Volume};

const SIZES: [(u16, u16); 4] = [(60, 16), (80, 24), (120, 40), (250, 70)];

/// The morning of the small shop with a booth that is named, surveyed and read.
fn with_booth() -> (Bench, Moment) {
    let (mut bench, now) = Bench::morning();
    let (w, at) = (who("MB"), bench.at("2026-03-12 06:20"));
    let s = stamp(at);
    let l = &mut bench.ledger;
    l.declare_room("booth 1", Some(Span::minutes(15)), 1_000, &w, &s)
        .unwrap();
    l.record_survey("booth 1", vec![Speed(530_000)], 1, "vane", at, &w, &s)
        .unwrap();
    let sample = Sample {
        at: bench.at("2026-03-12 09:30"),
        temperature: Temperature(21_000),
        humidity: Some(Humidity(6_500)),
    };
    let read = stamp(bench.at("2026-03-12 09:31"));
    bench
        .ledger
        .add_readings("booth 1", "booth.csv", &[sample], &w, &read)
        .unwrap();
    (bench, now)
}

fn touch_up() -> DeedWhat {
    DeedWhat::Coat {
        kind: None,
        touch_up: true,
        mix: None,
        lot: None,
        amount: None,
        wet: Vec::new(),
        supervisor: None,
        more: CoatMore::default(),
    }
}

fn at_booth() -> Desk {
    let (bench, now) = with_booth();
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(2));
    desk
}

fn line(desk: &Desk) -> String {
    let log = desk.model.log().unwrap();
    log.plan().map_or_else(String::new, |p| p.line.clone())
}

#[test]
fn the_booth_reads_at_four_sizes() {
    let mut desk = at_booth();
    for (columns, rows) in SIZES {
        desk.size(columns, rows);
        insta::assert_snapshot!(format!("booth_{columns}x{rows}"), desk.snapshot());
    }
}

#[test]
fn how_the_check_stands_is_said_once_and_every_key_of_the_booth_stands_at_the_foot() {
    let mut desk = at_booth();
    desk.size(80, 24);
    let text = desk.text();
    assert_eq!(
        text.matches("booth 1: ").count(),
        2,
        "check and air: {text}"
    );
    assert!(text.contains("check unknown, none recorded"), "{text}");
    assert!(!text.contains("no check is written down"), "{text}");
    let foot = text.lines().last().unwrap();
    for key in [
        "Enter open",
        "n mix",
        "t add",
        "e end",
        "r read",
        "u undo",
        "? help",
        "q quit",
    ] {
        assert!(foot.contains(key), "{key}: {foot}");
    }
}

#[test]
fn a_rack_past_its_window_stays_at_the_booth_and_is_not_among_what_may_be_sprayed() {
    let (bench, _) = with_booth();
    let now = bench.at("2026-03-20 09:44");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(2));
    let floor = desk.model.floor.seen().to_vec();
    let rows = next(&floor);
    let closed: Vec<_> = rows.iter().filter(|r| r.closed.is_some()).collect();
    assert!(!closed.is_empty(), "{rows:?}");
    // They come after all that may be sprayed, or whose time is not known.
    let first = rows.iter().position(|r| r.closed.is_some()).unwrap();
    assert!(rows[..first].iter().all(|r| r.closed.is_none()));
    assert!(
        rows[first..]
            .iter()
            .all(|r| r.closed.is_some() || r.pieces.is_empty())
    );
    let name = closed[0].name();
    let said = closed[0]
        .closed_words(now, &desk.model.shop.calendar)
        .unwrap();
    assert!(
        said.starts_with("window closed ") && said.ends_with(", scuff first"),
        "{said}"
    );
    for (columns, lines) in SIZES {
        desk.size(columns, lines);
        let text = desk.text();
        assert!(
            text.contains(&name) && text.contains("scuff first"),
            "{text}"
        );
    }
    desk.key(Key::End);
    for _ in first + 1..rows.len() {
        desk.key(Key::Up);
    }
    desk.size(80, 24);
    insta::assert_snapshot!("booth_window_closed_80x24", desk.snapshot());
    assert!(desk.text().contains(&said), "{}", desk.text());
}

#[test]
fn the_wall_reads_at_four_sizes() {
    let (bench, now) = with_booth();
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(8));
    for (columns, rows) in SIZES {
        desk.size(columns, rows);
        for page in 1..=3 {
            insta::assert_snapshot!(format!("wall_{page}_{columns}x{rows}"), desk.snapshot());
            desk.key(Key::Down);
        }
    }
}

#[test]
fn without_colour_and_utf8_booth_and_wall_are_plain_and_say_the_same() {
    let mut desk = at_booth();
    desk.model.shop.theme = Theme {
        form: Form::Plain,
        shapes: false,
    };
    let text = desk.text();
    assert!(text.is_ascii(), "{text}");
    assert!(text.contains("######"), "{text}");
    for wanted in [
        "earliest 09:50",
        "waiting",
        "no limit entered",
        "none recorded",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
    desk.key(Key::F(8));
    for _ in 0..3 {
        let text = desk.text();
        assert!(text.is_ascii() && text.contains("##"), "{text}");
        desk.key(Key::Down);
    }
}

#[test]
fn the_earliest_rack_comes_first_with_its_minutes_and_the_mark_moves_the_digits() {
    let mut desk = at_booth();
    let floor = desk.ledger().floor(desk.model.now, None).unwrap();
    let order: Vec<(String, String)> = next(&floor).iter().map(|n| (n.name(), n.coat())).collect();
    // The necks had their first clear coat at 08:20, the bodies their fourth at 09:00. The two loose bodies are not
    // taken in yet and have no coat next.
    let words = |a: &str, b: &str| (a.to_owned(), b.to_owned());
    assert_eq!(
        order,
        [words("R3", "clear 2 of 6"), words("R12", "clear 5 of 9")]
    );
    let text = desk.text();
    assert!(
        text.contains("earliest 09:50") && text.contains("clear 2 of 6"),
        "{text}"
    );
    desk.key(Key::Down);
    let text = desk.text();
    for wanted in [
        "earliest 10:30",
        "clear 5 of 9",
        "15 pieces, 1 held",
        "hook 7 held: dent beside the binding",
        "mixed: 13 at 4, 3 at 3",
        "coats left today: 2 (cap 3)",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
    // Enter opens what the mark is on.
    desk.key(Key::Enter);
    assert_eq!(
        desk.model.log().unwrap().target,
        Target::Rack("R12".to_owned(), None)
    );
}

#[test]
fn a_wait_counts_down_in_big_digits() {
    let mut desk = at_booth();
    let digits = |desk: &Desk| -> Vec<String> {
        let text = desk.text();
        let rows = text.lines().skip(1).take(9);
        rows.map(|l| l.chars().take(12).collect()).collect()
    };
    let six = digits(&desk);
    assert!(six.iter().any(|l| l.contains('█')), "{six:?}");
    let now = Moment(desk.model.now.0 + 60_000);
    desk.tell(Msg::Now(now));
    assert_ne!(six, digits(&desk), "a minute later there is another digit");
}

#[test]
fn a_touched_up_piece_that_holds_its_rack_back_is_named_with_its_hook() {
    let (mut bench, _) = with_booth();
    bench.deed(piece("N0209"), touch_up(), "2026-03-12 09:20", "AB");
    let now = bench.at("2026-03-12 09:44");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.size(120, 40);
    desk.key(Key::F(2));
    // R3 now waits for it and stands second.
    desk.key(Key::Down);
    let text = desk.text();
    assert!(
        text.contains("hook 5 touched up, from 10:50; 11 of 12 from 09:50"),
        "{text}"
    );
}

#[test]
fn both_blush_rules_say_their_figure_and_their_limit_and_the_one_that_is_exceeded() {
    let air = AirNow::Read(Sample {
        at: Moment(0),
        temperature: Temperature(21_000),
        humidity: Some(Humidity(6_500)),
    });
    let with = |humidity: Option<i64>, spread: Option<i64>| {
        let limits = BoothLimits {
            humidity_high: humidity.map(Humidity),
            spread_low_mk: spread,
            ..BoothLimits::default()
        };
        rules(&limits, air, System::Metric)
    };
    // At 21 C and 65 % the dew point is 6.8 K below: the limit of the spread is exceeded, the one of humidity is not.
    let [humidity, spread] = with(Some(6_500), Some(11_100));
    assert_eq!((humidity.beyond, spread.beyond), (Some(false), Some(true)));
    assert_eq!(
        (spread.figure.as_str(), spread.limit.as_deref()),
        ("6.8 K", Some("11.1 K"))
    );
    let [humidity, spread] = with(Some(6_000), None);
    assert_eq!((humidity.beyond, spread.beyond), (Some(true), None));
    assert_eq!(humidity.limit.as_deref(), Some("60.0 %"));
    assert_eq!(spread.limit, None);
    let limits = BoothLimits {
        humidity_high: Some(Humidity(6_500)),
        ..BoothLimits::default()
    };
    let [humidity, spread] = rules(&limits, AirNow::None, System::Us);
    assert_eq!((humidity.beyond, spread.beyond), (None, None));
    assert_eq!(humidity.figure, "unknown");
}

#[test]
fn a_limit_that_is_exceeded_is_named_on_the_booth() {
    let (mut bench, now) = with_booth();
    let text = std::fs::read_to_string(
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample/recipes/n8.toml"),
    )
    .unwrap();
    let text = text.replace("revision = 1", "revision = 2").replacen(
        "[[step]]",
        "[booth]\nhumidity_high = \"65 %\"\nspread_low = \"11.1 K diff\"\n\n[[step]]",
        1,
    );
    let (w, s) = (who("MB"), stamp(now));
    bench
        .ledger
        .adopt_recipe("n8-2.toml", &text, &w, &s)
        .unwrap();
    let moved = Fact::Reassigned {
        recipe: "N8".to_owned(),
        revision: 2,
        why: "limits of the air".to_owned(),
    };
    bench.deed(rack("R3"), DeedWhat::Other(moved), "2026-03-12 09:40", "MB");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(2));
    let text = desk.text();
    assert!(
        text.contains("! spread limit exceeded: 6.8 K is under 11.1 K; RH 65.0 %, limit 65.0 %"),
        "{text}"
    );
}

#[test]
fn a_booth_check_is_unknown_then_done_then_due() {
    let (mut bench, now) = with_booth();
    let checks = |bench: &Bench| bench.ledger.last_checks(now).unwrap();
    assert!(checks(&bench).is_empty());
    let (w, s) = (who("AB"), stamp(now));
    let at = bench.at("2026-03-12 06:30");
    bench
        .ledger
        .record_check(
            "booth 1",
            &hangtime::shop::record::BoothSeen::default(),
            at,
            &w,
            &s,
        )
        .unwrap();
    assert_eq!(checks(&bench).len(), 1);
    let stop = bench.at("2026-03-12 09:10");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(2));
    assert!(
        desk.text().contains("booth 1: checked 06:30"),
        "{}",
        desk.text()
    );
    let mut ledger = desk.ledger();
    ledger.record_outage("booth 1", stop, None, &w, &s).unwrap();
    desk.tell(Msg::Changed);
    assert!(
        desk.text()
            .contains("check DUE: exhaust unknown since it stopped at 09:10"),
        "{}",
        desk.text()
    );
    let data = desk.model.places.booth.data.as_ref().unwrap();
    assert_eq!(
        data.at_station("BOOTH-1").map(|b| b.check),
        Some(CheckNow::Due(stop))
    );
}

#[test]
fn one_key_at_the_booth_shows_what_is_unread_and_writes_down_that_it_was_read() {
    let mut desk = at_booth();
    let unread = |desk: &Desk| {
        let data = desk.model.places.booth.data.as_ref().unwrap();
        let due = data.due.get("booth 1").unwrap();
        due.iter().filter(|d| d.read.is_none()).count()
    };
    let mix = desk.ledger().newest_mix().unwrap().unwrap();
    assert!(unread(&desk) > 0);
    let said = format!("{} cautions not read today: r", unread(&desk));
    assert!(desk.text().contains(&said), "{}", desk.text());
    let effects = update(&mut desk.model, Msg::Key(Key::Char('r')));
    let [Effect::Run { person, errand, .. }] = effects.as_slice() else {
        panic!("{effects:?}");
    };
    assert_eq!(person.as_deref(), Some("AB"));
    let mix_word = mix.to_string();
    assert_eq!(
        errand.words,
        [
            "caution", "read", "all", "--mix", &mix_word, "--booth", "booth 1"
        ]
    );
    // What that command writes down is what the booth shows as unread.
    let mut ledger = desk.ledger();
    let data = desk.model.places.booth.data.as_ref().unwrap();
    let list: Vec<(String, String)> = data.due["booth 1"]
        .iter()
        .map(|d| (d.caution.id.to_owned(), d.about.clone()))
        .collect();
    let now = desk.model.now;
    ledger
        .read_cautions(&list, &who("AB"), &stamp(now))
        .unwrap();
    desk.key(Key::Esc);
    desk.tell(Msg::Ran(
        desk.model.ticket,
        Box::new(hangtime::screens::prompt::Ran {
            out: "saved".to_owned(),
            err: String::new(),
            end: hangtime::screens::prompt::End::Code(0),
        }),
    ));
    desk.tell(Msg::Changed);
    assert_eq!(unread(&desk), 0);
    assert!(!desk.text().contains("not read today"), "{}", desk.text());
}

#[test]
fn what_is_due_at_a_coat_stands_below_its_line_and_is_read_by_one_key_or_tag() {
    let mut desk = at_booth();
    let rack = desk.model.floor.seen()[0].rack().unwrap().to_owned();
    desk.scan(&rack);
    desk.keys("c");
    let shown = desk.model.log().unwrap().shown.clone().unwrap();
    assert!(!shown.cautions.is_empty());
    let text = desk.text();
    assert!(text.contains("not read today: r"), "{text}");
    // It stands below the line that would be saved, and keeps nobody from saving.
    let line = text.find("Rack R").unwrap();
    assert!(line < text.find("not read today").unwrap(), "{text}");
    let by_tag = update(&mut desk.model.clone(), Msg::Burst("HTREAD".to_owned()));
    let effects = update(&mut desk.model, Msg::Key(Key::Char('r')));
    for effects in [&by_tag, &effects] {
        let [Effect::Run { errand, .. }] = effects.as_slice() else {
            panic!("{effects:?}");
        };
        assert_eq!(errand.words[..3], ["caution", "read", "all"]);
    }
    let mut ledger = desk.ledger();
    let now = desk.model.now;
    let data = desk.model.places.booth.data.as_ref().unwrap();
    let mut due: Vec<(String, String)> = data
        .due
        .values()
        .flatten()
        .map(|d| (d.caution.id.to_owned(), d.about.clone()))
        .collect();
    due.sort();
    due.dedup();
    ledger.read_cautions(&due, &who("AB"), &stamp(now)).unwrap();
    desk.tell(Msg::Ran(
        desk.model.ticket,
        Box::new(hangtime::screens::prompt::Ran {
            out: "a\nb".to_owned(),
            err: String::new(),
            end: hangtime::screens::prompt::End::Code(0),
        }),
    ));
    desk.key(Key::Esc);
    // The line is asked for anew, and says no more of what was read.
    assert_eq!(desk.model.mode(), Mode::Confirm);
    assert!(!desk.text().contains("of mix"), "{}", desk.text());
    // Elsewhere the tag says where it belongs.
    desk.key(Key::Esc);
    desk.key(Key::F(3));
    desk.scan("HTREAD");
    assert!(desk.note().contains("go to the booth"), "{}", desk.note());
}

#[test]
fn a_pot_goes_on_for_its_life_from_its_oldest_part() {
    let life = Some(Span::hours(4));
    let mixed = Moment(0);
    assert_eq!(
        pot_left(life, mixed, Moment(3_600_000)),
        Some(Span::hours(3))
    );
    assert!(pot_left(life, mixed, Moment(5 * 3_600_000)).unwrap().0 < 0);
    assert_eq!(pot_left(None, mixed, mixed), None);
}

#[test]
fn the_end_of_a_pot_says_what_the_log_leaves_before_it_counts_it() {
    let mut desk = at_booth();
    let mix = desk.ledger().newest_mix().unwrap().unwrap();
    desk.keys("e");
    let (pot, unknown) = desk.ledger().pot_to_close(mix).unwrap();
    assert!(pot.level.0 > 0);
    let note = desk.note();
    for part in ["made", "drawn by coats", "left over in the month's book"] {
        assert!(note.contains(part), "{note}");
    }
    assert_eq!(
        note.contains("has no amount") || note.contains("have no amount"),
        unknown > 0
    );
    desk.size(80, 24);
    insta::assert_snapshot!("booth_end_of_pot_80x24", desk.snapshot());
    desk.keys("140");
    let note = desk.note();
    assert!(note.contains("0.14 L left (2.00 L by the log)"), "{note}");
    for _ in 0..3 {
        desk.key(Key::Backspace);
    }
    desk.key(Key::Enter);
    let saved = format!(
        "saved: pot of mix {mix} closed, {} mL left by the log",
        pot.level.0 / 1_000
    );
    assert_eq!(desk.note(), saved);
}

#[test]
fn the_cup_shows_its_age_and_the_pot_life_that_the_recipe_states() {
    let (mut bench, now) = with_booth();
    let text = std::fs::read_to_string(
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample/recipes/cv3.toml"),
    )
    .unwrap();
    let text = text.replace("temperature_low = \"15.6 C\"", "temperature_low = \"22 C\"");
    let (w, s) = (who("MB"), stamp(bench.at("2026-03-11 07:00")));
    bench
        .ledger
        .adopt_recipe("cv3.toml", &text, &w, &s)
        .unwrap();
    bench.add(
        (PieceKind::Body, "B", 600, 2),
        ("Parlour guitar", "CV3", 1),
        Some("R7"),
        "2026-03-11 08:00",
    );
    bench.work(rack("R7"), StepKind::Receive, "2026-03-11 08:30", "PR");
    bench.work(rack("R7"), StepKind::Mask, "2026-03-11 09:00", "PR");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(2));
    // The mix is of 08:05 and lives for eight hours; R7 has been ready since yesterday.
    let text = desk.text();
    assert!(
        text.contains("mix 3 clear 3:1, 99 min old, 2000 mL; pot life to 16:05 by recipe, 381 min"),
        "{text}"
    );
    assert!(text.contains("earliest 11 Mar 09:00"), "{text}");
    assert!(
        text.contains("booth 1: 21.0 C, RH 65.0 %, spread 6.8 K ! recipe from 22.0 C   read 09:30"),
        "{text}"
    );
    desk.tell(Msg::Now(Moment(now.0 + 7 * 3_600_000)));
    assert!(desk.text().contains("pot life is over"), "{}", desk.text());
}

#[test]
fn coats_left_today_count_down_to_the_cap() {
    let (mut bench, _) = Bench::morning();
    let left = |bench: &Bench, at: &str| {
        let at = bench.at(at);
        let floor = bench.ledger.floor(at, None).unwrap();
        let rows = next(&floor);
        let r3 = rows.iter().find(|n| n.name() == "R3").unwrap();
        r3.left_today(at, &bench.calendar())
    };
    let LeftToday::Coats(before, cap) = left(&bench, "2026-03-12 10:40") else {
        panic!("the necks have a cap")
    };
    bench.deed(rack("R3"), coat(Some(3)), "2026-03-12 10:44", "AB");
    assert_eq!(
        left(&bench, "2026-03-12 10:50"),
        LeftToday::Coats(before - 1, cap)
    );
}

/// One task of the finisher: the keys after the scan, the figure that is typed besides, and what must be saved.
struct Task {
    says: &'static str,
    scan: &'static str,
    keys: &'static [Key],
    /// A number such as minutes or a hook, typed before the key at this place. It is what is said, not a key of the way.
    figure: Option<(usize, &'static str)>,
    /// A further scan before the key at this place.
    second: Option<(usize, &'static str)>,
    saved: &'static str,
}

const fn c(key: char) -> Key {
    Key::Char(key)
}

const TASKS: &[Task] = &[
    Task {
        says: "log a coat for the rack",
        scan: "R3",
        keys: &[c('c'), Key::Enter],
        figure: None,
        second: None,
        saved: "saved: Rack R3 - clear coat 2 - 12 pieces - ended 10:44 - mix 3",
    },
    Task {
        says: "it ended some minutes ago",
        scan: "R3",
        keys: &[c('c'), Key::Enter],
        figure: Some((1, "15")),
        second: None,
        saved: "saved: Rack R3 - clear coat 2 - 12 pieces - ended 10:29 - mix 3",
    },
    Task {
        says: "skip a piece with the scanner",
        scan: "R3",
        keys: &[c('c'), Key::Enter],
        figure: None,
        second: Some((1, "N0209")),
        saved: "saved: Rack R3 - clear coat 2 - 11 pieces - ended 10:44 - mix 3",
    },
    Task {
        says: "skip a piece by its hook",
        scan: "R3",
        keys: &[c('c'), c('k'), Key::Enter],
        figure: Some((2, "5")),
        second: None,
        saved: "saved: Rack R3 - clear coat 2 - 11 pieces - ended 10:44 - mix 3",
    },
    Task {
        says: "log the first hooks of a rack only",
        scan: "R3",
        keys: &[c('c'), c('h'), Key::Enter],
        figure: Some((2, "7")),
        second: None,
        saved: "saved: Rack R3 hooks 1-7 - clear coat 2 - 7 pieces - ended 10:44 - mix 3",
    },
    Task {
        says: "log hooks from the middle of a rack",
        scan: "R3",
        keys: &[c('c'), c('h'), Key::Enter],
        figure: Some((2, "5-7")),
        second: None,
        saved: "saved: Rack R3 hooks 5-7 - clear coat 2 - 3 pieces - ended 10:44 - mix 3",
    },
    Task {
        says: "mark a defect on a piece",
        scan: "B0412",
        keys: &[c('d'), c('4'), Key::Enter],
        figure: None,
        second: None,
        saved: "blush",
    },
];

#[test]
fn each_task_of_the_finisher_takes_three_keys_or_fewer_after_the_scan() {
    let role = "finisher";
    let booth = || {
        let (bench, _) = Bench::morning();
        let now = bench.at("2026-03-12 10:44");
        let mut desk = Desk::sit(bench, now, Some("AB"));
        desk.key(Key::F(2));
        desk
    };
    let mut table = Vec::new();
    for task in TASKS {
        let mut desk = booth();
        desk.scan(task.scan);
        let mut way = Presses::at(&mut desk);
        for (n, key) in task.keys.iter().enumerate() {
            if let Some((at, figure)) = task.figure
                && at == n
            {
                way.type_in(figure);
            }
            if let Some((at, scan)) = task.second
                && at == n
            {
                way.scan(scan);
            }
            way.key(*key);
        }
        table.push(way.row(role, task.says));
        assert_eq!(
            desk.model.mode(),
            Mode::Receipt,
            "{}: {}",
            task.says,
            desk.note()
        );
        let text = desk.text();
        assert!(text.contains(task.saved), "{}\n{text}", task.says);
    }
    // Without a scan: the mix in the cup, and the undo.
    for (says, key, amount, wanted) in [
        (
            "make the mix again",
            'n',
            "1000",
            "saved: mix 4 \"clear 3:1\"",
        ),
        (
            "top up the mix",
            't',
            "500",
            "saved: mix 4 \"clear 3:1\" onto 2000 mL left of mix 3 by the log",
        ),
        (
            "end the pot",
            'e',
            "140",
            "saved: pot of mix 3 closed, 140 mL left",
        ),
    ] {
        let mut desk = booth();
        let mut way = Presses::at(&mut desk);
        way.char(key).type_in(amount).key(Key::Enter);
        table.push(way.row(role, says));
        assert_eq!(desk.note(), wanted);
    }
    let mut desk = booth();
    desk.scan("R3");
    desk.keys("c");
    desk.key(Key::Enter);
    let mut way = Presses::at(&mut desk);
    way.char('u').key(Key::Enter);
    table.push(way.row(role, "undo my last"));
    assert!(desk.note().contains("is taken back"), "{}", desk.note());
    // The terminal in other hands.
    let mut way = Presses::at(&mut desk);
    way.char('i').type_in("DP").key(Key::Enter);
    table.push(way.row(role, "hand the terminal over"));
    assert_eq!(desk.model.person.as_deref(), Some("DP"));
    stand_in_the_guide(role, &table);
}

#[test]
fn the_same_mix_again_and_a_top_up_take_two_keys_and_a_number() {
    let (bench, now) = Bench::morning();
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(2));
    desk.keys("n");
    assert_eq!(desk.model.mode(), Mode::Mixing);
    assert_eq!(
        desk.note(),
        "clear 3:1: 1500.0 mL L-2207 + 500.0 mL T-0931 = 2000.0 mL"
    );
    desk.keys("1000");
    assert_eq!(
        desk.note(),
        "clear 3:1: 750.0 mL L-2207 + 250.0 mL T-0931 = 1000.0 mL"
    );
    let text = desk.text();
    assert!(
        text.contains("another mix 3, how many mL in all? 1000_"),
        "{text}"
    );
    desk.key(Key::Enter);
    assert_eq!(desk.note(), "saved: mix 4 \"clear 3:1\"");
    assert_eq!(desk.model.mode(), Mode::Booth);
    let volumes = |desk: &Desk, mix: u32| -> Vec<i64> {
        let mix = desk.ledger().mix(mix).unwrap().unwrap();
        mix.parts.iter().map(|p| p.volume.0).collect()
    };
    assert_eq!(volumes(&desk, 4), [750_000, 250_000]);
    // No number: as much as before. A top-up is as old as what it was poured onto.
    let later = Moment(now.0 + 3_600_000);
    desk.tell(Msg::Now(later));
    desk.keys("t");
    desk.key(Key::Enter);
    assert_eq!(
        desk.note(),
        "saved: mix 5 \"clear 3:1\" onto 1000 mL left of mix 4 by the log"
    );
    assert_eq!(volumes(&desk, 5), [1_500_000, 500_000]);
    let (four, five) = (desk.ledger().mix(4), desk.ledger().mix(5));
    let (four, five) = (four.unwrap().unwrap(), five.unwrap().unwrap());
    assert_eq!(five.mixed, four.mixed);
    assert!(desk.text().contains("mix 5 clear 3:1"), "{}", desk.text());
    // What is no volume is not saved, and Esc leaves everything as it was.
    desk.keys("n0");
    assert!(
        matches!(desk.model.note, Some(Note::Fault(_))),
        "{}",
        desk.note()
    );
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Mixing);
    desk.key(Key::Esc);
    assert_eq!(desk.model.mode(), Mode::Booth);
    assert!(desk.ledger().mix(6).unwrap().is_none());
}

#[test]
fn undo_takes_two_keys_on_the_receipt_and_at_the_booth() {
    for at_booth in [false, true] {
        let (bench, _) = Bench::morning();
        let now = bench.at("2026-03-12 10:44");
        let mut desk = Desk::sit(bench, now, Some("AB"));
        desk.key(Key::F(2));
        desk.scan("R3");
        desk.keys("c");
        desk.key(Key::Enter);
        if at_booth {
            desk.key(Key::Enter);
            assert_eq!(desk.model.mode(), Mode::Booth);
        }
        desk.keys("u");
        desk.key(Key::Enter);
        assert!(desk.note().contains("is taken back"), "{}", desk.note());
        assert_eq!(desk.model.mode(), Mode::Booth);
    }
}

#[test]
fn a_function_key_leaves_the_receipt_for_another_place() {
    let (bench, _) = Bench::morning();
    let now = bench.at("2026-03-12 10:44");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.scan("R3");
    desk.keys("c");
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Receipt);
    desk.key(Key::F(4));
    assert_eq!(desk.model.mode(), Mode::Shift);
    // Not so from a line that is not saved yet.
    desk.scan("R3");
    desk.keys("c");
    desk.key(Key::F(4));
    assert_eq!(desk.model.mode(), Mode::Confirm);
}

#[test]
fn the_line_changes_with_every_digit_and_a_number_that_names_nothing_saves_nothing() {
    let (bench, _) = Bench::morning();
    let now = bench.at("2026-03-12 10:44");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.scan("R3");
    desk.keys("c");
    desk.keys("1");
    assert!(line(&desk).contains("ended 10:43"), "{}", line(&desk));
    desk.keys("5");
    assert!(line(&desk).contains("ended 10:29"), "{}", line(&desk));
    desk.key(Key::Backspace);
    assert!(line(&desk).contains("ended 10:43"), "{}", line(&desk));
    desk.keys("k");
    desk.keys("1");
    assert!(line(&desk).contains("11 pieces"), "{}", line(&desk));
    assert!(
        desk.text().contains("N0205: not worked on, left out"),
        "{}",
        desk.text()
    );
    // A rack of twelve has no hook 13, and what cannot be read is not saved.
    desk.keys("3");
    assert!(
        desk.note().contains("no piece hangs on hook 13"),
        "{}",
        desk.note()
    );
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Figure);
    assert_eq!(line(&desk), "");
    desk.key(Key::Backspace);
    // One more hook, and the rack shrinks to ten; Esc takes only the last one back.
    desk.keys("k2");
    assert!(line(&desk).contains("10 pieces"), "{}", line(&desk));
    desk.key(Key::Esc);
    assert_eq!(desk.model.mode(), Mode::Confirm);
    assert!(
        line(&desk).contains("11 pieces") && line(&desk).contains("ended 10:43"),
        "{}",
        line(&desk)
    );
    desk.keys("h20-30");
    assert!(
        desk.note().contains("no piece hangs on hooks 20-30"),
        "{}",
        desk.note()
    );
    desk.key(Key::Esc);
    assert!(line(&desk).contains("Rack R3 - clear"), "{}", line(&desk));
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Receipt);
}

#[test]
fn an_amount_that_is_typed_beside_the_line_is_in_the_record_and_in_the_month() {
    let (bench, _) = Bench::morning();
    let now = bench.at("2026-03-12 10:44");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    let uncounted = |desk: &Desk| {
        let march = hangtime::ledger::Months::one("2026-03").unwrap();
        desk.ledger().uncounted_coats(&march).unwrap()
    };
    let before = uncounted(&desk);
    desk.scan("R3");
    desk.keys("c");
    desk.keys("a");
    assert!(
        desk.text().contains("how many mL in all? _"),
        "{}",
        desk.text()
    );
    desk.keys("600");
    assert!(line(&desk).contains("600 mL from mix 3"), "{}", line(&desk));
    // Too much for any pot is refused as it is typed, and Enter saves nothing then.
    desk.keys("000000");
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Figure, "{}", desk.text());
    for _ in 0..6 {
        desk.key(Key::Backspace);
    }
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Receipt, "{}", desk.text());
    let ledger = desk.ledger();
    let (action, _) = ledger.head().unwrap();
    let used = ledger.used_by_action(action).unwrap();
    let volume: i64 = used.iter().map(|u| u.volume.0).sum();
    assert_eq!(volume, 600_000);
    assert_eq!(uncounted(&desk), before);
    desk.key(Key::Enter);

    // Esc takes it back; what is no coat uses nothing.
    desk.scan("R12");
    desk.keys("ca5");
    assert!(line(&desk).contains("5 mL from mix"), "{}", desk.text());
    desk.key(Key::Esc);
    assert!(!line(&desk).contains("mL from"), "{}", desk.text());
    desk.key(Key::Esc);
    desk.scan("R12");
    desk.keys("sa");
    assert!(desk.note().contains("only a coat"), "{}", desk.text());
}

#[test]
fn the_other_half_of_a_split_rack_is_left_as_it_was() {
    let (bench, _) = Bench::morning();
    let now = bench.at("2026-03-12 10:44");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(2));
    desk.scan("R3");
    desk.keys("ch7");
    desk.key(Key::Enter);
    let floor = desk.ledger().floor(now, None).unwrap();
    let rows = next(&floor);
    let r3 = rows.iter().find(|n| n.name() == "R3").unwrap();
    assert_eq!(r3.mixed.as_deref(), Some("mixed: 7 at 2, 5 at 1"));
    // A second scan of the rack's tag while a part of it is open does not drop the draft.
    desk.scan("R3");
    desk.keys("ch8-12");
    desk.scan("R3");
    assert!(desk.note().contains("read twice"), "{}", desk.note());
    assert_eq!(desk.model.mode(), Mode::Confirm);
    assert!(line(&desk).contains("hooks 8-12"), "{}", line(&desk));
}

#[test]
fn a_defect_is_kept_with_its_code_and_shown_as_odd_at_the_booth() {
    let (bench, _) = Bench::morning();
    let now = bench.at("2026-03-12 10:44");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(2));
    desk.scan("R3");
    desk.keys("c");
    desk.key(Key::Enter);
    // From the receipt: the hook, Enter, which, Enter.
    desk.keys("d5");
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Defect);
    assert!(desk.text().contains("1 run"), "{}", desk.text());
    desk.keys("1");
    assert!(line(&desk).contains("run"), "{}", line(&desk));
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Receipt);
    let seen = desk.ledger().piece("N0209", now).unwrap();
    assert_eq!(seen.now.flaws.len(), 1);
    assert_eq!(seen.now.flaws[0].defect, Defect::Run);
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Booth);
    desk.size(120, 40);
    while !desk.text().contains("hook 5 run") {
        assert!(desk.model.places.booth.mark < 2, "{}", desk.text());
        desk.key(Key::Down);
        assert!(desk.model.places.booth.mark > 0);
    }
}

#[test]
fn a_key_beside_no_defect_says_so_and_a_half_typed_defect_is_reopened_as_it_was() {
    let mut desk = Desk::morning();
    desk.scan("B0412");
    desk.keys("dz");
    assert!(desk.note().contains("no defect stands beside \"z\""));
    assert_eq!(desk.model.mode(), Mode::Defect);
    desk.keys("k");
    assert!(line(&desk).contains("other"), "{}", line(&desk));
    let before = line(&desk);
    desk.key(Key::Interrupt);
    desk.key(Key::Enter);
    let mut desk = desk.restart(Some("AB"));
    assert_eq!(desk.model.mode(), Mode::Fate);
    desk.key(Key::Enter);
    assert_eq!(line(&desk), before);
}

#[test]
fn the_wall_turns_its_pages_by_itself() {
    let (bench, now) = with_booth();
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(8));
    let mut pages = Vec::new();
    for step in 0..4 {
        desk.tell(Msg::Now(Moment(now.0 + step * 10_000)));
        let text = desk.text();
        let (_, page) = text.split_once("page ").unwrap();
        pages.push(page.chars().take(6).collect::<String>());
    }
    assert_eq!(pages[0], pages[3]);
    let mut three = pages[..3].to_vec();
    three.sort();
    assert_eq!(three, ["1 of 3", "2 of 3", "3 of 3"]);
}

#[test]
fn the_wall_counts_the_booths_that_nobody_checked_today() {
    // Late, open and booths: three big zeros, each with three rows of two strokes.
    for (day, wanted) in [("2026-03-12 06:30", 9), ("2026-03-11 06:30", 6)] {
        let (mut bench, now) = with_booth();
        let at = bench.at(day);
        let seen = hangtime::shop::record::BoothSeen::default();
        bench
            .ledger
            .record_check("booth 1", &seen, at, &who("AB"), &stamp(now))
            .unwrap();
        let mut desk = Desk::sit(bench, now, Some("AB"));
        desk.key(Key::F(8));
        let said = (0..3).find_map(|step| {
            desk.tell(Msg::Now(Moment(now.0 + step * 10_000)));
            let text = desk.text();
            text.contains("not checked today").then_some(text)
        });
        let said = said.expect("a page of the wall tells of it");
        assert_eq!(said.matches("██  ██").count(), wanted, "{said}");
    }
}

#[test]
fn a_function_key_leads_on_from_what_lies_on_the_scan_line() {
    let mut desk = Desk::morning();
    desk.keys("R77");
    desk.key(Key::Enter);
    assert_eq!(desk.model.scan, "R77", "{}", desk.text());
    desk.key(Key::F(4));
    assert_eq!(desk.model.place, Place::Shift);
    assert_eq!(desk.model.scan, "");
}

/// Two bodies on a rack that are masked and have their first coat next.
fn masked(bench: &mut Bench, recipe: (&str, u32)) {
    bench.add(
        (PieceKind::Body, "B", 600, 2),
        ("Parlour guitar", recipe.0, recipe.1),
        Some("R7"),
        "2026-03-11 08:00",
    );
    bench.work(rack("R7"), StepKind::Receive, "2026-03-11 08:30", "PR");
    bench.work(rack("R7"), StepKind::Mask, "2026-03-11 09:00", "PR");
}

#[test]
fn the_newest_mix_that_fits_the_step_is_offered() {
    let (mut bench, now) = with_booth();
    masked(&mut bench, ("G9", 3));
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(2));
    // The newest mix is the clear one; a seal coat is offered the sealer.
    let text = desk.text();
    assert!(text.contains("mix 1 sealer"), "{text}");
    // It is the one that is made again there, too.
    desk.keys("n");
    assert!(
        desk.text().contains("another mix 1, how many"),
        "{}",
        desk.text()
    );
    desk.key(Key::Esc);
    for (whom, mix) in [("R7", 1), ("R3", 3), ("B0600", 1), ("B0412", 3)] {
        desk.scan(whom);
        desk.keys("c");
        let log = desk.model.log().unwrap();
        assert_eq!(log.mix, Some(mix), "{whom}");
        let plan = log.plan().unwrap();
        let rules = plan.pieces.iter().flat_map(|p| &p.objections);
        assert!(rules.map(|o| o.rule).all(|r| r != Rule::Material), "{whom}");
        desk.key(Key::Esc);
    }
}

#[test]
fn where_no_mix_fits_that_is_said_and_none_is_named() {
    let (mut bench, now) = with_booth();
    masked(&mut bench, ("P9", 1));
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(2));
    let text = desk.text();
    let none = "no open mix fits fill: it wants filler";
    assert!(
        text.contains(&format!("{none}; the newest is 3 clear 3:1")),
        "{text}"
    );
    desk.scan("R7");
    desk.keys("c");
    assert_eq!(desk.model.log().unwrap().mix, None);
    assert!(desk.text().contains(none), "{}", desk.text());
    // One key takes the newest along, with what speaks against it.
    desk.keys("]");
    assert_eq!(desk.model.log().unwrap().mix, Some(3));
    assert!(
        desk.text()
            .contains("the cup holds lacquer and thinner, fill wants"),
        "{}",
        desk.text()
    );
}

/// Twelve necks in their cure.
fn in_cure(bench: &mut Bench) {
    bench.add(
        (PieceKind::Neck, "N", 700, 12),
        ("Cittern", "N8", 1),
        Some("R9"),
        "2026-03-09 10:30",
    );
    bench.work(rack("R9"), StepKind::Receive, "2026-03-09 11:00", "PR");
    bench.work(rack("R9"), StepKind::Mask, "2026-03-09 11:10", "PR");
    let sand = DeedWhat::Sand {
        kind: Some(StepKind::LevelSand),
        removed: None,
        grit: None,
    };
    for hour in [12, 14] {
        let at = format!("2026-03-09 {hour}:00");
        bench.deed(rack("R9"), coat(None), &at, "AB");
    }
    for day in [10, 11] {
        for hour in ["08", "10", "12"] {
            let at = format!("2026-03-{day} {hour}:00");
            bench.deed(rack("R9"), coat(None), &at, "AB");
        }
        if day == 10 {
            bench.deed(rack("R9"), sand.clone(), "2026-03-11 07:00", "SK");
        }
    }
}

#[test]
fn a_rack_in_cure_that_is_scanned_for_another_is_not_sprayed_by_enter() {
    let (mut bench, now) = with_booth();
    in_cure(&mut bench);
    let mut desk = Desk::sit(bench, now, Some("AB"));
    let newest = |desk: &Desk| desk.ledger().last_action(None).unwrap().unwrap().seq;
    let before = newest(&desk);
    for (columns, rows) in [(60, 16), (80, 24)] {
        desk.size(columns, rows);
        desk.scan("R9");
        desk.keys("c");
        // What it would undo stands above the line, and not below the fold.
        let text = desk.text();
        let first = text.lines().nth(1).unwrap();
        assert!(
            first.starts_with("nothing is saved yet, against it: 12 of 12 pieces;"),
            "{text}"
        );
        let top: Vec<&str> = text.lines().skip(1).take(2).collect();
        let top: Vec<&str> = top.iter().flat_map(|l| l.split_whitespace()).collect();
        assert!(top.join(" ").contains("is in cure."), "{text}");
        desk.key(Key::Enter);
        assert_eq!(desk.model.mode(), Mode::Confirm);
        assert!(
            desk.note()
                .contains("nothing is saved: all have something against it"),
            "{}",
            desk.note()
        );
        assert_eq!(newest(&desk), before);
        desk.key(Key::Esc);
    }
    // x says that it is meant.
    desk.scan("R9");
    desk.keys("cx");
    let text = desk.text();
    let first = text.lines().nth(1).unwrap();
    assert!(first.starts_with("against it: 12 of 12 pieces;"), "{text}");
    desk.key(Key::Enter);
    assert_eq!(newest(&desk), before + 1, "{}", desk.note());
    assert_eq!(desk.model.mode(), Mode::Why);
}

#[test]
fn a_volume_with_letters_in_it_is_said_and_makes_no_mix() {
    let mut desk = at_booth();
    let mixes = |desk: &Desk| desk.ledger().mixes().unwrap().len();
    let before = mixes(&desk);
    desk.keys("n");
    desk.keys("5oo");
    assert!(desk.text().contains("5oo"), "{}", desk.text());
    desk.key(Key::Enter);
    assert_eq!(desk.model.mode(), Mode::Mixing);
    assert!(
        desk.note().contains("\"oo\" is not a unit here"),
        "{}",
        desk.note()
    );
    assert_eq!(mixes(&desk), before);
    // A unit is no such thing.
    for _ in 0..2 {
        desk.key(Key::Backspace);
    }
    desk.keys("00 mL");
    desk.key(Key::Enter);
    assert_eq!(mixes(&desk), before + 1, "{}", desk.note());
    let made = desk.ledger().mixes().unwrap().remove(0);
    assert_eq!(made.volume, Volume(500_000));
}

#[test]
fn the_function_keys_lead_on_from_the_help_page_and_past_no_draft() {
    let mut desk = at_booth();
    desk.key(Key::F(1));
    assert_eq!(desk.model.mode(), Mode::Help);
    desk.key(Key::F(4));
    assert_eq!(desk.model.mode(), Mode::Shift);
    desk.scan("R3");
    desk.keys("c?");
    assert_eq!(desk.model.mode(), Mode::Help);
    desk.key(Key::F(2));
    assert_eq!(desk.model.mode(), Mode::Help);
    assert!(desk.note().contains("a draft is open"), "{}", desk.note());
    desk.key(Key::Esc);
    assert_eq!(desk.model.mode(), Mode::Confirm);
}

#[test]
fn a_coat_while_nothing_is_known_of_the_exhaust_says_so_first() {
    let (mut bench, now) = with_booth();
    let (w, s) = (who("MB"), stamp(now));
    let stop = bench.at("2026-03-12 09:10");
    bench
        .ledger
        .record_outage("booth 1", stop, None, &w, &s)
        .unwrap();
    let mut desk = Desk::sit(bench, now, Some("AB"));
    let said = "booth 1: no exhaust state is known since it stopped at 09:10; a booth check is";
    desk.scan("R3");
    desk.keys("c");
    assert!(desk.text().contains(said), "{}", desk.text());
    // A sanding has nothing to do with it.
    desk.key(Key::Esc);
    desk.scan("R3");
    desk.keys("s");
    assert!(!desk.text().contains("exhaust state"), "{}", desk.text());
}

#[test]
fn the_others_on_a_rack_are_named_by_what_they_have_next() {
    let (mut bench, now) = with_booth();
    masked(&mut bench, ("G9", 3));
    bench.add(
        (PieceKind::Body, "B", 650, 1),
        ("Parlour guitar", "G9", 3),
        None,
        "2026-03-11 08:00",
    );
    let hang = Fact::Placed {
        rack: Some("R7".to_owned()),
        hook: Some(9),
        room: None,
    };
    bench.deed(
        piece("B0650"),
        DeedWhat::Other(hang),
        "2026-03-11 09:30",
        "PR",
    );
    let floor = bench.ledger.floor(now, None).unwrap();
    let at = bench.calendar();
    let row = next(&floor).into_iter().find(|n| n.name() == "R7").unwrap();
    let odd = row.odd(&std::collections::BTreeMap::new(), now, &at);
    assert_eq!(odd, ["1 other on it: next receive"]);
}

#[test]
fn a_long_message_goes_on_above_its_line_and_is_not_cut() {
    let mut desk = at_booth();
    desk.size(80, 24);
    let long = "the ledger could not be written because its folder is read only now, nothing was saved; look for whoever mounts it and press the key again";
    desk.tell(Msg::Fault(long.to_owned()));
    let text: Vec<String> = desk.text().split_whitespace().map(str::to_owned).collect();
    assert!(text.join(" ").contains(long), "{}", desk.text());
}

#[test]
fn one_key_books_a_coat_at_the_booth_where_it_was_sprayed() {
    let (mut bench, now) = with_booth();
    let (w, s) = (who("MB"), stamp(bench.at("2026-03-12 06:21")));
    bench
        .ledger
        .record_survey(
            "booth 2",
            vec![Speed(530_000)],
            1,
            "vane",
            s.written,
            &w,
            &s,
        )
        .unwrap();
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.size(80, 24);
    desk.scan("R12");
    desk.keys("s");
    desk.keys("b");
    assert!(desk.note().contains("only a coat"), "{}", desk.note());
    desk.key(Key::Esc);
    desk.scan("R12");
    desk.keys("c");
    let before = desk.text();
    assert!(before.contains("booked at no booth"), "{before}");
    insta::assert_snapshot!("coat_booth_before_80x24", desk.snapshot());
    for booth in ["booth 1", "booth 2", "booth 1", "booth 2"] {
        desk.keys("b");
        let text = desk.text();
        assert!(text.contains(&format!("sprayed in {booth}")), "{text}");
    }
    insta::assert_snapshot!("coat_booth_80x24", desk.snapshot());
    desk.key(Key::Enter);
    let ledger = desk.ledger();
    let last = ledger.last_action(None).unwrap().unwrap();
    let (_, all) = ledger.action(last.seq).unwrap();
    assert!(!all.is_empty());
    for entry in all {
        let What::Piece(Fact::Coat(coat)) = &entry.what else {
            panic!("{entry:?}");
        };
        assert_eq!(coat.more.sprayed_in(None), Some("booth 2"));
    }
}
