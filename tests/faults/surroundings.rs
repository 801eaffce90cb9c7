//! Where the program is started: languages that are not there, terminals that can do little, an empty environment.

use crate::harness::{NOW, Row, Shop, Size};
use crate::slow::{ordinary, screens};
use std::process::{Command, Stdio};

type Environment = &'static [(&'static str, &'static str)];

// Name, what is set, whether the frames may be more than ASCII, whether colour may be used.
const PLACES: &[(&str, Environment, bool, bool)] = &[
    (
        "ordinary",
        &[("TERM", "xterm-256color"), ("LANG", "C.UTF-8")],
        true,
        true,
    ),
    (
        "a language that is not there",
        &[("TERM", "xterm"), ("LC_ALL", "xx_YY.UTF-8")],
        true,
        true,
    ),
    (
        "LC_ALL=C",
        &[("TERM", "xterm"), ("LC_ALL", "C"), ("LANG", "C.UTF-8")],
        false,
        true,
    ),
    (
        "LC_ALL=POSIX",
        &[("TERM", "xterm"), ("LC_ALL", "POSIX")],
        false,
        true,
    ),
    (
        "ISO-8859-1",
        &[("TERM", "xterm"), ("LC_ALL", "de_DE.ISO-8859-1")],
        false,
        true,
    ),
    (
        "nonsense",
        &[
            ("TERM", "no such terminal"),
            ("LC_ALL", "\u{7}=;/../.."),
            ("LANG", "\u{fc}"),
            ("TZ", ":/no/such"),
            ("TZDIR", "/no/such"),
        ],
        false,
        true,
    ),
    (
        "TERM=dumb",
        &[("TERM", "dumb"), ("LANG", "C.UTF-8")],
        true,
        false,
    ),
    (
        "TERM empty",
        &[("TERM", ""), ("LC_ALL", ""), ("LC_CTYPE", ""), ("LANG", "")],
        false,
        true,
    ),
    ("an empty environment", &[], false, true),
];

/// The screens and a command, wherever they are started.
pub fn strange(_size: Size) -> Row {
    let mut row = Row::new(
        "U-07",
        "broken locales, TERM=dumb or unset, an empty environment",
    );
    let shop = Shop::new();
    let before = shop.record().unwrap();
    let floor = said(&shop, &ordinary(&shop.folder));
    row.must(floor.contains("B-0101"), || format!("the floor is {floor}"));
    for (name, environment, shapes, colour) in PLACES {
        row.faults += 1;
        let answer = said(&shop, environment);
        row.must(answer == floor, || {
            format!("{name}: the floor is another one: {answer}")
        });
        let mut terminal = screens(&shop, &[], environment);
        let text = terminal.wait("scan: _");
        row.must(text.contains("W0") && text.contains("B-0101"), || {
            format!("{name}: {text}")
        });
        terminal.press("?");
        terminal.wait("Scan or type a rack or a serial");
        terminal.press("\u{1b}");
        terminal.wait("scan: _");
        terminal.press("q");
        let code = terminal.ends();
        row.must(code == 0, || format!("{name}: ended with {code}"));
        let held = terminal.screen.lock().unwrap();
        let bytes = String::from_utf8_lossy(&held.2).into_owned();
        row.must(*shapes || bytes.is_ascii(), || {
            let odd: String = bytes.chars().filter(|c| !c.is_ascii()).collect();
            format!("{name}: shows {odd} where only ASCII can be shown")
        });
        row.must(*colour || !coloured(&bytes), || {
            format!("{name}: uses colour")
        });
        row.must(!bytes.contains("panicked"), || format!("{name}: {bytes}"));
    }
    row.must(shop.record().as_ref() == Ok(&before), || {
        "looking changed the record".to_owned()
    });
    row
}

// What the floor says in lines for people.
fn said(shop: &Shop, environment: &[(&str, &str)]) -> String {
    let out = Command::new(env!("CARGO_BIN_EXE_hangtime"))
        .args(["floor", "--at", NOW, "--ledger"])
        .arg(&shop.ledger)
        .env_clear()
        .envs(environment.iter().copied())
        .stdin(Stdio::null())
        .output()
        .unwrap();
    format!(
        "{:?} {}{}",
        out.status.code(),
        String::from_utf8_lossy(&out.stdout),
        String::from_utf8_lossy(&out.stderr)
    )
}

// Whether a colour is chosen anywhere: 30 to 38, 40 to 48 or 90 to 107 in the list of a rendition.
fn coloured(bytes: &str) -> bool {
    bytes.split("\u{1b}[").skip(1).any(|rest| {
        let Some((list, _)) = rest.split_once('m') else {
            return false;
        };
        list.chars().all(|c| c.is_ascii_digit() || c == ';')
            && list
                .split(';')
                .filter_map(|n| n.parse::<u8>().ok())
                .any(|n| (30..39).contains(&n) || (40..49).contains(&n) || (90..108).contains(&n))
    })
}
