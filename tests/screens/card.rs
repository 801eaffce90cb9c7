//! A piece's card: film, days, air, solvent, lines of work, and the workings behind its figures.

use crate::desk::Desk;
use crate::shop::{Bench, coat, piece, rack, stamp, who};
use hangtime::ledger::{DeedRequest, DeedWhat, Included, Outcome};
use hangtime::reports::life::{self, DayMark, Mark};
use hangtime::screens::keys::{Key, Mode};
use hangtime::screens::theme::{Form, Theme};
use hangtime::shop::climate::Sample;
use hangtime::shop::record::Fact;
use hangtime::shop::words::{Defect, PieceKind, StepKind};
use hangtime::units::{Film, Humidity, Moment, Span, Temperature};

const SIZES: [(u16, u16); 4] = [(60, 16), (80, 24), (120, 40), (250, 70)];

const MODEL: &str = "\n[solvent]\nleft = \"10 %\"\nburn_in = \"15 um\"\n";

fn placed(room: &str) -> DeedWhat {
    DeedWhat::Other(Fact::Placed {
        rack: Some("R7".to_owned()),
        hook: None,
        room: Some(room.to_owned()),
    })
}

fn sand(grit: &str) -> DeedWhat {
    DeedWhat::Sand {
        kind: None,
        removed: None,
        grit: Some(grit.to_owned()),
    }
}

/// Two bodies under the sample's first recipe with its solvent model switched on: coated in three days, in a logged room
/// whose readings have a gap and cold hours, with a defect on one of them.
fn life() -> (Bench, Moment) {
    let mut b = Bench::new();
    let text = std::fs::read_to_string(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/sample/recipes/g9.toml"
    ))
    .unwrap();
    let text = text.replace("revision = 3", "revision = 4") + MODEL;
    let at = b.at("2026-03-09 09:30");
    b.ledger
        .adopt_recipe("g9.toml", &text, &who("MB"), &stamp(at))
        .unwrap();
    b.ledger
        .declare_room(
            "cure room",
            Some(Span::minutes(15)),
            1_000,
            &who("MB"),
            &stamp(at),
        )
        .unwrap();
    b.add(
        (PieceKind::Body, "B", 700, 2),
        ("Octave mandolin", "G9", 4),
        Some("R7"),
        "2026-03-09 10:00",
    );
    let r7 = || rack("R7");
    b.work(r7(), StepKind::Receive, "2026-03-10 07:30", "PR");
    b.work(r7(), StepKind::Mask, "2026-03-10 08:00", "PR");
    let sealer = b.mix(
        "sealer",
        &[("S-1180", 1_200), ("T-0931", 400)],
        "2026-03-10 08:10",
    );
    let clear = b.mix(
        "clear 3:1",
        &[("L-2207", 1_500), ("T-0931", 500)],
        "2026-03-10 08:20",
    );
    for at in ["2026-03-10 08:30", "2026-03-10 09:40"] {
        b.deed(r7(), coat(Some(sealer)), at, "AB");
    }
    let sets = [
        ("2026-03-10", ["11:00", "12:40", "14:20"], Some("07:30")),
        ("2026-03-11", ["08:30", "10:10", "11:50"], Some("07:10")),
        ("2026-03-12", ["08:10", "09:50", "11:30"], None),
    ];
    for (n, (day, times, _)) in sets.iter().enumerate() {
        for time in times {
            b.deed(r7(), coat(Some(clear)), &format!("{day} {time}"), "AB");
        }
        if n < 2 {
            let next = format!("2026-03-{} 07:20", 11 + n);
            b.deed(r7(), sand("P400"), &next, "SK");
        }
    }
    let flaw = Fact::Flawed {
        defect: Defect::Run,
        size_um: Some(3_000),
        place: Some("lower bout".to_owned()),
        note: None,
    };
    b.deed(
        piece("B0700"),
        DeedWhat::Other(flaw),
        "2026-03-12 12:00",
        "SK",
    );
    b.deed(r7(), placed("cure room"), "2026-03-12 12:30", "AB");
    let from = b.at("2026-03-12 12:00");
    let samples: Vec<Sample> = (0..(4 * 24 * 5))
        // Six hours without readings, and a cold night.
        .filter(|n| !(80..104).contains(n))
        .map(|n| Sample {
            at: from.plus(Span::minutes(15 * n)),
            temperature: Temperature(if (150..190).contains(&n) {
                15_000
            } else {
                21_500
            }),
            humidity: Some(Humidity(4_500)),
        })
        .collect();
    let read = b.at("2026-03-17 12:00");
    b.ledger
        .add_readings(
            "cure room",
            "logger.csv",
            &samples,
            &who("MB"),
            &stamp(read),
        )
        .unwrap();
    let now = b.at("2026-03-17 12:05");
    (b, now)
}

fn open(serial: &str) -> Desk {
    let (bench, now) = life();
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.scan(serial);
    desk
}

/// All of the card's lines, whatever the height of the screen.
fn whole(desk: &mut Desk) -> String {
    desk.size(80, 300);
    let text = desk.text();
    desk.size(80, 24);
    text
}

#[test]
fn the_card_of_a_cured_body_reads_at_four_sizes() {
    let mut desk = open("B0700");
    for (columns, rows) in SIZES {
        desk.size(columns, rows);
        insta::assert_snapshot!(format!("card_cure_{columns}x{rows}"), desk.snapshot());
    }
    desk.size(80, 24);
    for section in ["film", "days", "air"] {
        desk.key(Key::Tab);
        insta::assert_snapshot!(format!("card_{section}_80x24"), desk.snapshot());
    }
}

#[test]
fn a_provisional_time_stands_beside_what_the_rooms_average_day_makes_of_it() {
    let (mut bench, read) = life();
    // Up to the midnight after 18 March: five whole days, of which 14 March lost ten hours.
    let samples: Vec<Sample> = (0..=145)
        .map(|n| Sample {
            at: bench.at("2026-03-17 12:00").plus(Span::minutes(15 * n)),
            temperature: Temperature(21_500),
            humidity: Some(Humidity(4_500)),
        })
        .collect();
    let now = read.plus(Span::hours(37));
    bench
        .ledger
        .add_readings("cure room", "more.csv", &samples, &who("MB"), &stamp(now))
        .unwrap();
    let seen = bench.ledger.piece("B0700", now).unwrap();
    let spreads = bench.ledger.spreads(&[&seen], now).unwrap();
    let [middle, slow, fast] = spreads["B0700"].cases.unwrap().map(Option::unwrap);
    assert!(seen.view.provisional);
    assert_eq!(spreads["B0700"].days, 5);
    assert_eq!((middle, fast), (seen.view.ready_at.unwrap(), middle));
    assert!(slow.since(middle) > Span::hours(24), "{slow:?}");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.scan("B0700");
    desk.size(250, 70);
    let text = desk.text();
    for wanted in [
        "by the average day of cure room",
        "slow case",
        "(5 whole days)",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
}

#[test]
fn the_first_screenful_says_whether_the_next_thing_may_be_done_and_why_not() {
    let mut desk = open("B0700");
    for (columns, rows) in [(80, 24), (60, 16)] {
        desk.size(columns, rows);
        let text = desk.text();
        for wanted in [
            "final sand",
            "waiting",
            "from",
            "left",
            "check by hand",
            "cure 103 of 336 h",
        ] {
            assert!(text.contains(wanted), "{wanted}\n{text}");
        }
    }
}

#[test]
fn tab_goes_from_section_to_section_and_round_and_shift_tab_back() {
    let mut desk = open("B0700");
    let mut seen = Vec::new();
    for _ in 0..12 {
        desk.key(Key::Tab);
        seen.push(desk.text().lines().nth(1).unwrap().trim().to_owned());
    }
    for (n, section) in [
        "film after each deed",
        "production days",
        "air and credited hours since the last wet coat",
        "solvent still in the film",
    ]
    .iter()
    .enumerate()
    {
        assert_eq!(seen[n], *section);
    }
    let top = seen.iter().position(|l| l.starts_with("B0700")).unwrap();
    assert!(top > 4, "{seen:?}");
    desk.key(Key::Home);
    desk.key(Key::Tab);
    desk.key(Key::Tab);
    desk.key(Key::BackTab);
    assert!(desk.text().lines().nth(1).unwrap().contains("film after"));
}

#[test]
fn the_film_after_each_deed_is_the_kept_one_and_its_doubt_grows() {
    let (bench, now) = life();
    let seen = bench.ledger.piece("B0700", now).unwrap();
    let courses = life::film(&bench.ledger, &seen, now).unwrap();
    let [course] = courses.as_slice() else {
        panic!("one surface, one course: {courses:?}");
    };
    assert_eq!(course.surfaces, ["whole"]);
    assert_eq!(course.points.last().unwrap().film.0, seen.film_nm());
    let coats: Vec<u32> = course
        .points
        .iter()
        .filter_map(|p| match p.mark {
            Mark::Coat(StepKind::Clear, n) => Some(n),
            _ => None,
        })
        .collect();
    assert_eq!(coats, (1..=9).collect::<Vec<u32>>());
    // Every deed adds to what is not known, a sanding too.
    for pair in course.points.windows(2) {
        assert!(pair[1].doubt > pair[0].doubt, "{pair:?}");
    }
    assert!(course.points.iter().all(|p| p.predicted.is_none()));
}

#[test]
fn a_gauge_reading_replaces_the_film_and_the_old_prediction_goes_on_beside_it() {
    let (bench, now) = Bench::morning();
    let seen = bench.ledger.piece("N0207", now).unwrap();
    let course = life::film(&bench.ledger, &seen, now).unwrap().remove(0);
    let at = course
        .points
        .iter()
        .position(|p| p.mark == Mark::Gauge)
        .unwrap();
    let (before, gauge, after) = (
        &course.points[at - 1],
        &course.points[at],
        &course.points[at + 1],
    );
    assert_eq!(gauge.film, Film(18_000));
    assert_eq!(gauge.predicted, Some(before.film));
    // The coat after it adds the same to both.
    let added = after.film.0 - gauge.film.0;
    assert!(added > 0);
    assert_eq!(after.predicted, Some(Film(before.film.0 + added)));
    assert_eq!(gauge.doubt, Film(5_000));
    assert_eq!(gauge.bounds(), (18_000 - 8_225, 18_000 + 8_225));
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.scan("N0207");
    let text = whole(&mut desk);
    for wanted in [
        "◆",
        "○",
        "the prediction it replaced",
        "the prediction alone says",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
}

#[test]
fn surfaces_with_lives_and_bands_of_their_own_have_plots_of_their_own() {
    let mut b = Bench::new();
    let text = std::fs::read_to_string(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/sample/recipes/rx9.toml"
    ))
    .unwrap();
    let at = b.at("2026-03-09 09:30");
    b.ledger
        .adopt_recipe("rx9.toml", &text, &who("MB"), &stamp(at))
        .unwrap();
    b.add(
        (PieceKind::Body, "B", 900, 1),
        ("Parlour guitar", "RX9", 1),
        Some("R9"),
        "2026-03-09 10:00",
    );
    let mix = b.mix(
        "sealer",
        &[("S-1180", 1_200), ("T-0931", 400)],
        "2026-03-10 08:10",
    );
    let mut what = coat(Some(mix));
    if let DeedWhat::Coat { kind, .. } = &mut what {
        *kind = Some(StepKind::Seal);
    }
    let ended = b.at("2026-03-10 09:00");
    let mut request = DeedRequest::new(who("AB"), piece("B0900"), what, ended);
    request.surface = "top".to_owned();
    request.included = Included::All;
    let saved = b.ledger.log(&request, &stamp(ended)).unwrap();
    assert!(matches!(saved, Outcome::Saved(_)), "{saved:?}");
    let now = b.at("2026-03-10 10:00");
    let seen = b.ledger.piece("B0900", now).unwrap();
    let courses = life::film(&b.ledger, &seen, now).unwrap();
    let surfaces: Vec<_> = courses.iter().map(|c| c.surfaces.join(", ")).collect();
    assert_eq!(surfaces, ["top", "back, sides"]);
    assert_eq!(courses[0].band, (Film(50_000), Film(80_000)));
    assert_eq!(courses[0].points.len(), 1);
    assert_eq!(courses[0].points[0].mark, Mark::Coat(StepKind::Seal, 1));
    assert!(courses[1].points.is_empty());
    let mut desk = Desk::sit(b, now, Some("AB"));
    desk.scan("B0900");
    let text = whole(&mut desk);
    assert!(
        text.contains("back, sides: no deed has changed its film yet"),
        "{text}"
    );
    assert!(
        text.contains("seal top 1"),
        "the day names the surface\n{text}"
    );
}

#[test]
fn the_days_number_their_coats_and_leave_out_what_was_taken_back() {
    let (bench, now) = Bench::morning();
    let entries = bench.ledger.entries(Some("B0412")).unwrap();
    let days = life::days(&entries, &bench.calendar(), None, now);
    let words: Vec<String> = days.iter().map(|d| d.words.join(", ")).collect();
    assert_eq!(
        words,
        [
            "taken in, to rack R12",
            "receive, mask, seal 1 2, clear 1 2 3",
            "level-sand P400",
            "clear 4"
        ]
    );
    let today = days.last().unwrap();
    assert_eq!(today.marks.len(), 1, "the sanding was taken back");
    assert_eq!(today.marks[0].1, DayMark::Coat(4));
    assert_eq!(today.marks[0].0, Span::hours(4));
}

#[test]
fn days_without_a_deed_are_gathered_and_the_cure_runs_through_them() {
    let mut desk = open("B0700");
    let text = whole(&mut desk);
    let line = |wanted: &str| {
        text.lines()
            .find(|l| l.contains(wanted))
            .unwrap_or_else(|| panic!("{wanted}\n{text}"))
            .to_owned()
    };
    assert!(line("clear 7 8 9").starts_with("Thu 12 Mar"));
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("cure from 11:30"), "{text}");
    let quiet = line("5 days, nothing logged");
    assert!(quiet.starts_with("to Tue 17 Mar"), "{quiet}");
    assert!(quiet.contains("~~~~~~"), "{quiet}");
}

#[test]
fn a_gap_in_the_readings_is_a_gap_and_said_to_be_unknown() {
    let mut desk = open("B0700");
    let text = whole(&mut desk);
    let credit = text.lines().find(|l| l.starts_with("credit ")).unwrap();
    for mark in ["?", "▆", "_", "a"] {
        assert!(credit.contains(mark), "{mark}\n{credit}");
    }
    assert!(text.contains("without readings: unknown"), "{text}");
    assert!(text.contains(" wanted: "), "{text}");
    assert!(text.contains("|cure room"), "{text}");
}

#[test]
fn the_solvent_that_is_left_falls_with_the_credited_time_and_is_an_estimate() {
    let (bench, now) = life();
    let seen = bench.ledger.piece("B0700", now).unwrap();
    let left = bench.ledger.solvent_left(&seen, now, 40).unwrap();
    let [left] = left.as_slice() else {
        panic!("{left:?}");
    };
    assert_eq!(left.points.len(), 41);
    let shares: Vec<i64> = left.points.iter().map(|(_, s)| s.0).collect();
    assert!(shares.windows(2).all(|w| w[1] <= w[0]), "{shares:?}");
    assert!(
        shares[0] > shares[40] && shares[40] > left.own.0,
        "{shares:?}"
    );
    // Nothing dries in a gap, as nothing is credited there.
    assert!(shares.windows(2).any(|w| w[1] == w[0]), "{shares:?}");
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.scan("B0700");
    let text = whole(&mut desk);
    assert!(text.contains("of its solvent is left"), "{text}");
    assert!(text.contains("an estimate"), "{text}");
}

#[test]
fn without_a_model_the_recipe_says_nothing_of_solvent() {
    let mut desk = Desk::morning();
    desk.scan("B0412");
    assert!(!whole(&mut desk).contains("solvent still in the film"));
}

#[test]
fn a_rework_stands_beside_the_main_line_and_each_defect_says_what_became_of_it() {
    let (mut bench, now) = life();
    let rework = Fact::Reworked {
        rework: "RW3".to_owned(),
        defect: Some(Defect::Run),
        why: "run at the lower bout".to_owned(),
    };
    bench.deed(
        piece("B0700"),
        DeedWhat::Other(rework),
        "2026-03-17 09:00",
        "MB",
    );
    let scratch = Fact::Flawed {
        defect: Defect::Ding,
        size_um: None,
        place: None,
        note: None,
    };
    bench.deed(
        piece("B0700"),
        DeedWhat::Other(scratch),
        "2026-03-17 10:00",
        "SK",
    );
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.scan("B0700");
    let text = whole(&mut desk);
    let heads = text
        .lines()
        .find(|l| l.contains("main line, whole"))
        .unwrap();
    assert!(heads.contains("rework RW3, whole"), "{text}");
    assert!(text.contains("for run"), "{text}");
    assert!(text.contains("▸ clear 0 of 3"), "{text}");
    let fates: Vec<&str> = text.lines().filter(|l| l.contains(", seen ")).collect();
    assert_eq!(fates.len(), 2, "{text}");
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("taken into rework RW3 by entry"), "{text}");
    assert!(flat.contains("by SK: open"), "{text}");
    desk.size(120, 40);
    insta::assert_snapshot!("card_rework_120x300", {
        desk.size(120, 110);
        desk.snapshot()
    });
}

#[test]
fn a_digit_picks_the_figure_whose_working_is_shown() {
    let mut desk = open("B0700");
    desk.keys("k");
    assert_eq!(desk.model.mode(), Mode::Working);
    assert!(desk.text().contains("film of B0700"), "{}", desk.text());
    desk.keys("2");
    assert!(desk.text().contains("ready of B0700"), "{}", desk.text());
    desk.keys("3");
    assert!(desk.text().contains("air of cure room"), "{}", desk.text());
    desk.keys("4");
    assert!(desk.text().contains("coat of entry"), "{}", desk.text());
    insta::assert_snapshot!("card_working_80x24", desk.snapshot());
    desk.key(Key::Esc);
    assert_eq!(desk.model.mode(), Mode::Card);
    // A digit with no figure, and the figure that was picked, both stay.
    desk.keys("k9");
    desk.keys("k");
    assert_eq!(desk.model.mode(), Mode::Card);
}

#[test]
fn what_was_taken_back_is_struck_and_a_word_says_so() {
    let mut desk = Desk::morning();
    desk.scan("B0412");
    desk.model.shop.theme = Theme {
        form: Form::Plain,
        shapes: false,
    };
    desk.size(120, 200);
    let shown = desk.snapshot();
    assert!(shown.contains("CROSSED_OUT"), "{shown}");
    let (text, _) = shown.split_once("\n\n  0 ").unwrap_or((&shown, ""));
    assert!(text.contains("taken back by"), "{text}");
    assert!(text.is_ascii(), "{text}");
}

#[test]
fn the_card_is_drawn_at_every_size_in_both_shapes() {
    let mut desk = open("B0700");
    for shapes in [true, false] {
        desk.model.shop.theme.shapes = shapes;
        for columns in (0..=260).step_by(20) {
            for rows in (0..=70).step_by(14) {
                desk.size(columns, rows);
                let text = desk.text();
                assert!(shapes || text.is_ascii(), "{columns}x{rows}\n{text}");
                desk.key(Key::Tab);
            }
        }
    }
}
