//! The command line inside the program: what is typed, what is asked for, what comes back.

use crate::desk::Desk;
use hangtime::screens::keys::Key;
use hangtime::screens::model::Page;
use hangtime::screens::msg::{Effect, Msg};
use hangtime::screens::prompt::{Choice, End, Errand, Names, Ran};
use hangtime::screens::update::update;

fn names() -> Names {
    let command = |name: &str, under: Vec<Names>| Names {
        name: name.to_owned(),
        about: String::new(),
        options: vec![Choice {
            name: "--pin".to_owned(),
            takes: true,
        }],
        under,
    };
    command(
        "hangtime",
        vec![
            command("ready", Vec::new()),
            command(
                "recipe",
                vec![command("show", Vec::new()), command("list", Vec::new())],
            ),
            command("screen", Vec::new()),
        ],
    )
}

fn desk() -> Desk {
    let mut desk = Desk::morning();
    desk.model.command.names = names();
    desk
}

/// Types a line and presses Enter; the effects are not played.
fn run(desk: &mut Desk, line: &str) -> Vec<Effect> {
    desk.keys(":");
    desk.keys(line);
    update(&mut desk.model, Msg::Key(Key::Enter))
}

fn ran(desk: &mut Desk, out: &str, err: &str, end: End) {
    let ran = Ran {
        out: out.to_owned(),
        err: err.to_owned(),
        end,
    };
    desk.tell(Msg::Ran(desk.model.command_ticket, Box::new(ran)));
}

#[test]
fn what_is_typed_is_run_as_the_person_at_the_terminal() {
    let mut desk = desk();
    let effects = run(&mut desk, "note B0412 --why \"a  drip\" --pin 604815");
    let [
        Effect::Run {
            person, at, errand, ..
        },
    ] = effects.as_slice()
    else {
        panic!("{effects:?}");
    };
    assert_eq!(person.as_deref(), Some("AB"));
    assert_eq!(
        at.as_deref(),
        Some("2026-03-12T09:44:00.000-04:00"),
        "a demo's clock"
    );
    let words = ["note", "B0412", "--why", "a  drip"]
        .map(str::to_owned)
        .to_vec();
    let pin = Some("604815".to_owned());
    assert_eq!(*errand, Errand { words, pin });
    let text = desk.text();
    assert!(
        text.contains("running: note B0412") && text.contains("Esc"),
        "{text}"
    );
    assert!(!text.contains("604815"), "{text}");
    assert_eq!(
        update(&mut desk.model, Msg::Key(Key::Esc)),
        [Effect::StopRun]
    );
    ran(&mut desk, "", "", End::Stopped);
    assert!(desk.text().contains("it was stopped"), "{}", desk.text());
}

#[test]
fn a_pin_is_never_drawn_and_not_brought_back() {
    let mut desk = desk();
    desk.keys(":lift B0416 --pin 604815 --why dry");
    let text = desk.text();
    assert!(
        text.contains(":lift B0416 --pin ****** --why dry_"),
        "{text}"
    );
    let _ = update(&mut desk.model, Msg::Key(Key::Enter));
    ran(
        &mut desk,
        "",
        "lift asks for the PIN of AB; give it with --pin",
        End::Code(2),
    );
    let text = desk.text();
    assert!(
        text.contains("exit code 2") && text.contains("Up brings the line back"),
        "{text}"
    );
    assert!(!text.contains("6048"), "{text}");
    desk.keys(":");
    desk.key(Key::Up);
    assert!(
        desk.text().contains(":lift B0416 --why dry --pin _"),
        "{}",
        desk.text()
    );
}

#[test]
fn one_line_goes_to_the_message_line_and_more_to_a_page_that_scrolls() {
    let mut desk = desk();
    let _ = run(&mut desk, "note B0412 --why dry");
    ran(&mut desk, "DEMO\nnote kept (action 12)\n", "", End::Code(0));
    assert!(desk.model.stack.is_empty());
    assert!(desk.text().contains("note kept (action 12)"));
    let _ = run(&mut desk, "ready");
    let many: Vec<String> = (1..=60).map(|n| format!("line {n}")).collect();
    ran(&mut desk, &many.join("\n"), "", End::Code(0));
    let text = desk.text();
    assert!(
        text.contains("line 1\n") && !text.contains("line 60"),
        "{text}"
    );
    desk.key(Key::End);
    assert!(desk.text().contains("line 60"), "{}", desk.text());
    desk.key(Key::Esc);
    assert!(desk.model.stack.is_empty());
    let _ = run(&mut desk, "ready");
    ran(&mut desk, "", "", End::Code(0));
    assert!(desk.text().contains("done"), "{}", desk.text());
    let _ = run(&mut desk, "verify");
    ran(&mut desk, "a difference\n", "", End::Code(1));
    let text = desk.text();
    assert!(
        text.contains("a difference") && text.contains("exit code 1:"),
        "{text}"
    );
}

#[test]
fn the_answer_of_an_earlier_command_is_not_taken_for_a_later_one() {
    let mut desk = desk();
    let _ = run(&mut desk, "ready");
    let earlier = desk.model.command_ticket;
    desk.tell(Msg::Ran(
        earlier + 1,
        Box::new(Ran {
            out: "late".to_owned(),
            err: String::new(),
            end: End::Code(0),
        }),
    ));
    assert!(matches!(desk.model.stack.last(), Some(Page::Output(o)) if o.ran.is_none()));
}

#[test]
fn what_would_open_the_screens_again_is_refused_and_the_line_stays() {
    let mut desk = desk();
    let effects = run(&mut desk, "screen");
    assert_eq!(effects, []);
    let text = desk.text();
    assert!(text.contains("that would open the screens again"), "{text}");
    assert!(text.contains(":screen_"), "{text}");
    desk.key(Key::Esc);
    let effects = run(&mut desk, "note 'half");
    assert_eq!(effects, []);
    assert!(
        desk.text().contains("the quote ' is open"),
        "{}",
        desk.text()
    );
}

#[test]
fn tab_completes_and_the_history_goes_up_and_down() {
    let mut desk = desk();
    desk.keys(":re");
    desk.key(Key::Tab);
    assert!(desk.text().contains("ready  recipe"), "{}", desk.text());
    desk.keys("c");
    desk.key(Key::Tab);
    desk.keys("s");
    desk.key(Key::Tab);
    assert!(desk.text().contains(":recipe show _"), "{}", desk.text());
    desk.key(Key::Esc);
    for line in ["ready", "recipe list"] {
        let _ = run(&mut desk, line);
        ran(&mut desk, "x", "", End::Code(0));
    }
    desk.keys(":piece");
    let seen = |desk: &mut Desk, key: Key| {
        desk.key(key);
        let text = desk.text();
        text.lines()
            .find(|l| l.starts_with(':'))
            .unwrap()
            .to_owned()
    };
    assert_eq!(seen(&mut desk, Key::Up), ":recipe list_");
    assert_eq!(seen(&mut desk, Key::Up), ":ready_");
    assert_eq!(seen(&mut desk, Key::Up), ":ready_");
    assert_eq!(seen(&mut desk, Key::Down), ":recipe list_");
    assert_eq!(seen(&mut desk, Key::Down), ":piece_");
}

#[test]
fn the_line_opens_on_every_place_and_the_card_and_a_scan_goes_into_it() {
    let mut desk = desk();
    for n in 2..=8 {
        desk.key(Key::F(n));
        desk.keys(":");
        assert!(
            matches!(desk.model.stack.last(), Some(Page::Command(_))),
            "F{n}"
        );
        desk.key(Key::Esc);
    }
    desk.key(Key::F(3));
    desk.scan("B0412");
    desk.keys(":note ");
    desk.scan("B0412");
    assert!(desk.text().contains(":note B0412_"), "{}", desk.text());
    desk.key(Key::Esc);
    assert!(matches!(desk.model.stack.last(), Some(Page::Card(_))));
}

#[test]
fn a_long_line_shows_its_end() {
    let mut desk = desk();
    desk.size(60, 16);
    desk.keys(
        ":note B0412 --why \"the finish drew in round the bridge while it dried and was levelled\"",
    );
    let text = desk.text();
    assert!(text.contains("and was levelled\"_"), "{text}");
    assert!(text.lines().any(|l| l.starts_with('<')), "{text}");
}
