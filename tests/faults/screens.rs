//! The open screens in a pseudo-terminal that is resized without end, pasted into, or slow.

use crate::calls::with_strace;
use crate::harness::{Outcome, Row, Shop, Size, spread, spread_waiting};
use crate::pty::{Terminal, size as of};
use crate::slow::{DELAY, ordinary, screens, slow_syncs};
use std::num::NonZeroU16;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

// What the terminal library writes at the end of every picture.
const PICTURE: &[u8] = b"\x1b[?25l";

fn pictures(bytes: &[u8]) -> usize {
    bytes
        .windows(PICTURE.len())
        .filter(|w| *w == PICTURE)
        .count()
}

fn resize(terminal: &Terminal, rows: u16, cols: u16) {
    let mut held = terminal.screen.lock().unwrap();
    held.0.screen_mut().set_size(
        NonZeroU16::new(rows).unwrap(),
        NonZeroU16::new(cols).unwrap(),
    );
    drop(held);
    terminal.master.resize(of(rows, cols)).unwrap();
}

// What the screen shows once nothing comes any more, blanks at the end of its lines left out.
fn at_rest(terminal: &Terminal) -> String {
    std::thread::sleep(Duration::from_millis(200));
    let text = terminal.wait("");
    let lines: Vec<&str> = text.lines().map(str::trim_end).collect();
    lines.join("\n")
}

// The same once it is `wanted`, or what it shows instead after five seconds: a busy machine draws later, and a picture that
// is never drawn does not come by waiting.
fn comes_to(terminal: &Terminal, wanted: &str) -> String {
    let begin = Instant::now();
    loop {
        let text = at_rest(terminal);
        if text == wanted || begin.elapsed() > Duration::from_secs(5) {
            return text;
        }
    }
}

/// A thousand resizes in a second, also while a coat is saved on a slow disk.
pub fn resized(size: Size) -> Row {
    with_strace(
        "U-02",
        "1,000 resizes in 1 s, also while saving on a slow disk",
        |row| {
            let storms: Vec<usize> = (0..size.pick(1, 4, 60)).collect();
            let (mut most, mut refused) = (0, 0);
            for (one, pace, small) in spread(&storms, |storm| storm_of_sizes(*storm)) {
                most = most.max(pace);
                refused += usize::from(small);
                row.take(one);
            }
            row.must(refused < storms.len(), || {
                "no coat was saved within a storm".to_owned()
            });
            row.note(format!(
                "at most {most} pictures in 100 times 16 ms; the last one right each time; Enter fell {refused} times on \
                 a screen too small for it, which said so and saved nothing"
            ));
        },
    )
}

// What happens in this millisecond of a storm: where Enter falls, most screens are large enough to take it.
const ENTER: u32 = 300;
const LARGE: std::ops::Range<u32> = ENTER - 60..ENTER + 60;
const TOO_SMALL: &str = "too small to show what would be saved";

// What came of it, the most pictures in a hundred times 16 ms, and whether Enter fell on a screen too small for it.
fn storm_of_sizes(storm: usize) -> (Outcome, usize, bool) {
    let shop = Shop::new();
    let before = shop.record().unwrap();
    let mut one = Outcome::default();
    let mut dice = crate::harness::Dice::new(200 + storm);
    let log = shop.folder.join("calls");
    let mut terminal = screens(
        &shop,
        &slow_syncs(log.to_str().unwrap()),
        &ordinary(&shop.folder),
    );
    terminal.wait("Rack W0");
    terminal.press("W0\r");
    terminal.wait("What was done?");
    terminal.press("c");
    // The answer comes after the line that is kept first, which waits for the slow disk.
    terminal.wait("included");
    let asked = at_rest(&terminal);
    let mut most = 0;
    let mut refused = false;
    for saving in [false, true] {
        let from = terminal.screen.lock().unwrap().2.len();
        let begin = Instant::now();
        let mut pressed = begin;
        for n in 0..1_000_u32 {
            let next = begin + Duration::from_millis(1) * n;
            std::thread::sleep(next.saturating_duration_since(Instant::now()));
            let (rows, cols) = if saving && LARGE.contains(&n) {
                (30 + dice.below(30), 100 + dice.below(100))
            } else {
                (dice.below(60), 1 + dice.below(200))
            };
            terminal
                .master
                .resize(of(rows as u16, cols as u16))
                .unwrap();
            one.faults += 1;
            if saving && n == ENTER {
                pressed = Instant::now();
                terminal.press("\r");
            }
        }
        resize(&terminal, 30, 100);
        let took = begin.elapsed();
        let within = pictures(&terminal.screen.lock().unwrap().2[from..]);
        if saving {
            // The key is answered: by the save, or in words where the screen was too small at that moment.
            let answer = terminal.one_of(&["saved: Rack W0 ", TOO_SMALL], Duration::from_secs(20));
            refused = answer == Some(1);
            one.must(answer.is_some(), || {
                format!(
                    "storm {storm}: Enter was not answered:\n{}",
                    terminal.text()
                )
            });
            one.must(answer != Some(0) || pressed.elapsed() > DELAY, || {
                format!("storm {storm}: the disk was not slow")
            });
        }
        // What it still draws of the storm when it is over counts, too.
        at_rest(&terminal);
        let count = pictures(&terminal.screen.lock().unwrap().2[from..]);
        let slots = took.as_millis() as usize / 16;
        most = most.max(count * 100 / slots.max(1));
        // A key and the answer to it, and the first and the last size, may be drawn sooner. A save may end after the storm: its
        // receipt and the floor that follows it are drawn then.
        let after = if saving { 4 } else { 0 };
        one.must(
            within > 0 && within <= slots + 4 && count <= slots + 4 + after,
            || format!("storm {storm}: {within} pictures in {took:?}, {count} in all"),
        );
        if saving {
            if refused {
                one.must(shop.record().as_ref() == Ok(&before), || {
                    format!("storm {storm}: something was saved after a refusal")
                });
                terminal.press("\r");
            }
            one.broken.extend(
                terminal
                    .until(&["saved: Rack W0 "], Duration::from_secs(20))
                    .err(),
            );
            one.acknowledged += 1;
            // Drawn anew from nothing, it is the same.
            std::thread::sleep(Duration::from_secs(1));
            let shown = at_rest(&terminal);
            resize(&terminal, 29, 99);
            at_rest(&terminal);
            resize(&terminal, 30, 100);
            let anew = comes_to(&terminal, &shown);
            one.must(shown == anew, || {
                format!("storm {storm}: the last picture is\n{shown}\nand not\n{anew}")
            });
        } else {
            let shown = comes_to(&terminal, &asked);
            one.must(shown == asked, || {
                format!("storm {storm}: the last picture is\n{shown}\nand not\n{asked}")
            });
        }
    }
    terminal.press("\r");
    match terminal.until(&["scan: _"], Duration::from_secs(5)) {
        Ok(_) => {
            terminal.press("q");
            let code = terminal.ends();
            one.must(code == 0, || format!("storm {storm}: ended with {code}"));
        }
        Err(why) => {
            one.broken
                .push(format!("storm {storm}: Enter on the receipt: {why}"));
            let _ = terminal.child.kill();
        }
    }
    let now = shop.record().unwrap();
    let saved = now.actions.len() - before.actions.len();
    one.must(now.follows(&before) && saved <= 1, || {
        format!("storm {storm}: {saved} actions of one save")
    });
    one.lost += one.acknowledged.saturating_sub(saved);
    one.broken.extend(shop.verify().err());
    (one, most, refused)
}

// Nothing of the text can be kept in it.
const MORE_MEMORY: usize = 2 * 1_024;

/// Which of the marks that tell a paste are around the text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Marks {
    None,
    Both,
    // The terminal, or what lies between, has lost the one at the end.
    Begin,
}

// How the text is given to the program, and where it stands then.
#[derive(Debug, Clone, Copy)]
struct Paste {
    name: &'static str,
    marks: Marks,
    text: &'static str,
    // Whether a coat waits for its Enter.
    draft: bool,
    // How many bytes are written at once; an odd number cuts letters of several bytes.
    at_once: usize,
}

// Lines that would do something if they were keys or scans.
const LINES: &str = "W0\rc\r\rHTSAVE\ru\r\rW1\rc\r\ri\rXX\r:note B-0101 --why pasted\r\r";
const LETTERS: &str = "sanded a second time, \u{fc}ber \u{65e5}\u{672c} \u{1f3b8} ";

const PASTES: &[Paste] = &[
    Paste {
        name: "lines, bracketed",
        marks: Marks::Both,
        text: LINES,
        draft: false,
        at_once: 65_536,
    },
    Paste {
        name: "lines",
        marks: Marks::None,
        text: LINES,
        draft: false,
        at_once: 65_536,
    },
    Paste {
        name: "one line",
        marks: Marks::None,
        text: "W",
        draft: false,
        at_once: 65_536,
    },
    Paste {
        name: "letters cut in the middle, bracketed",
        marks: Marks::Both,
        text: LETTERS,
        draft: false,
        at_once: 1_021,
    },
    Paste {
        name: "letters cut in the middle",
        marks: Marks::None,
        text: LETTERS,
        draft: false,
        at_once: 1_021,
    },
    Paste {
        name: "Enter over a draft, bracketed",
        marks: Marks::Both,
        text: "\r",
        draft: true,
        at_once: 65_536,
    },
    Paste {
        name: "lines over a draft, bracketed without an end",
        marks: Marks::Begin,
        text: LINES,
        draft: true,
        at_once: 65_536,
    },
    Paste {
        name: "lines over a draft",
        marks: Marks::None,
        text: LINES,
        draft: true,
        at_once: 65_536,
    },
];

/// Ten megabytes are pasted, with and without the marks around them that tell a paste, and with the first one only.
pub fn pasted(size: Size) -> Row {
    let mut row = Row::new("U-03", "10 MB pasted: bracketed, bare, cut, without an end");
    let bytes = size.pick(400_000, 10_000_000, 10_000_000);
    let pastes: Vec<Paste> = (0..size.pick(1, 1, 5))
        .flat_map(|_| PASTES)
        .copied()
        .collect();
    let (mut longest, mut grown) = (Duration::ZERO, 0);
    for (one, took, more) in spread(&pastes, |how| paste(*how, bytes)) {
        longest = longest.max(took);
        grown = grown.max(more);
        row.take(one);
    }
    row.note(format!(
        "{} kB each, told after {} ms at the longest, {grown} kB of memory more",
        bytes / 1_000,
        longest.as_millis()
    ));
    row
}

fn paste(how: Paste, bytes: usize) -> (Outcome, Duration, usize) {
    let shop = Shop::new();
    let before = shop.record().unwrap();
    let mut one = Outcome {
        faults: 1,
        ..Outcome::default()
    };
    let mut terminal = screens(&shop, &[], &ordinary(&shop.folder));
    terminal.wait("Rack W0");
    let told = terminal.screen.lock().unwrap().2.clone();
    one.must(
        String::from_utf8_lossy(&told).contains("\u{1b}[?2004h"),
        || "the terminal is not asked to mark what is pasted".to_owned(),
    );
    if how.draft {
        terminal.press("W2\r");
        terminal.wait("What was done?");
        terminal.press("c");
        terminal.wait("Enter save");
    }
    let lean = terminal.memory("VmRSS");
    let mut all = how.text.repeat(bytes / how.text.len());
    if how.marks != Marks::None {
        all.insert_str(0, "\u{1b}[200~");
    }
    if how.marks == Marks::Both {
        all.push_str("\u{1b}[201~");
    }
    let begin = Instant::now();
    for chunk in all.as_bytes().chunks(how.at_once) {
        terminal.write(chunk);
    }
    let limit = match how.marks {
        Marks::None => "came without a pause",
        Marks::Both => "pasted, more than",
        Marks::Begin => "a paste began and its end did not come",
    };
    one.broken
        .extend(terminal.until(&[limit], Duration::from_mins(1)).err());
    let took = begin.elapsed();
    // The largest it ever was.
    let more = terminal.memory("VmHWM").saturating_sub(lean);
    one.must(more <= MORE_MEMORY, || format!("{more} kB of memory more"));
    // It goes on: Esc leaves what is open, a scan is taken.
    std::thread::sleep(Duration::from_millis(100));
    terminal.press("\u{1b}");
    one.broken.extend(
        terminal
            .until(&["the floor"], Duration::from_secs(5))
            .err()
            .map(|e| format!("Esc: {e}")),
    );
    std::thread::sleep(Duration::from_millis(100));
    terminal.press("W3\r");
    one.broken.extend(
        terminal
            .until(&["What was done?"], Duration::from_secs(5))
            .err()
            .map(|e| format!("a scan afterwards: {e}")),
    );
    terminal.press("\u{1b}");
    terminal.wait("scan: _");
    terminal.press("q");
    let code = terminal.ends();
    one.must(code == 0, || format!("ended with {code}"));
    let end = terminal.screen.lock().unwrap().2.clone();
    one.must(
        String::from_utf8_lossy(&end).contains("\u{1b}[?2004l"),
        || "the marks around a paste are not switched off".to_owned(),
    );
    one.must(shop.record().as_ref() == Ok(&before), || {
        "something of it was carried out".to_owned()
    });
    one.broken = one
        .broken
        .iter()
        .map(|b| format!("{}: {b}", how.name))
        .collect();
    (one, took, more)
}

/// The terminal takes a byte in ten milliseconds: what is drawn comes late, what is saved does not.
pub fn slow_terminal(size: Size) -> Row {
    let mut row = Row::new("U-08", "a terminal that takes 1 byte in 10 ms");
    let jobs: Vec<usize> = (0..size.pick(1, 4, 40)).collect();
    let mut times = Vec::new();
    for (one, mut took) in spread_waiting(&jobs, |_| one_slow()) {
        times.append(&mut took);
        row.take(one);
    }
    row.note(format!(
        "from Enter to the record, looked at each 5 ms, {}",
        crate::live::shares(&mut times)
    ));
    row
}

fn one_slow() -> (Outcome, Vec<Duration>) {
    let shop = Shop::new();
    let before = shop.record().unwrap();
    let mut one = Outcome::default();
    let mut took = Vec::new();
    let mut terminal = screens(&shop, &[], &ordinary(&shop.folder));
    terminal.wait("Rack W0");
    // A picture of this size fills what the kernel keeps for the terminal more than once.
    resize(&terminal, 70, 250);
    terminal.wait("scan: _");
    terminal.pause_ms.store(10, Ordering::Relaxed);
    let pause = || std::thread::sleep(Duration::from_millis(400));
    for rack in 0..4 {
        for keys in [format!("W{rack}\r"), "c".to_owned()] {
            terminal.press(&keys);
            pause();
        }
        one.faults += 1;
        let asked = Instant::now();
        terminal.press("\r");
        let wanted = before.actions.len() as i64 + rack + 1;
        while crate::live::actions(&shop) < wanted && asked.elapsed() < Duration::from_secs(3) {
            std::thread::sleep(Duration::from_millis(5));
        }
        if crate::live::actions(&shop) == wanted {
            one.acknowledged += 1;
            took.push(asked.elapsed());
        } else {
            one.broken.push(format!("rack {rack}: not saved after 3 s"));
        }
        terminal.press("\r");
        pause();
    }
    let behind = terminal.text();
    one.must(!behind.contains("Rack W3 - clear"), || {
        "the terminal was not slow".to_owned()
    });
    // Once it is as fast as others, the newest picture is there, and those in between never come.
    terminal.pause_ms.store(0, Ordering::Relaxed);
    terminal.press("W3\r");
    one.broken.extend(
        terminal
            .until(&["What was done?"], Duration::from_secs(10))
            .err(),
    );
    let shown = at_rest(&terminal);
    resize(&terminal, 69, 249);
    at_rest(&terminal);
    resize(&terminal, 70, 250);
    let anew = at_rest(&terminal);
    one.must(shown == anew, || {
        format!("the last picture is\n{shown}\nand not\n{anew}")
    });
    // Told to end while the terminal takes nothing in, it ends.
    terminal.pause_ms.store(10, Ordering::Relaxed);
    terminal.press("\u{1b}");
    pause();
    terminal.press("?");
    pause();
    let told = Instant::now();
    let pid = terminal.child.process_id().unwrap().to_string();
    let _ = std::process::Command::new("kill")
        .args(["-TERM", &pid])
        .status();
    while told.elapsed() < Duration::from_secs(6) && terminal.child.try_wait().unwrap().is_none() {
        std::thread::sleep(Duration::from_millis(10));
    }
    let ended = terminal.child.try_wait().unwrap().is_some();
    one.must(ended, || "SIGTERM does not end it".to_owned());
    if !ended {
        let _ = terminal.child.kill();
    }
    terminal.pause_ms.store(0, Ordering::Relaxed);
    let now = shop.record().unwrap();
    one.must(now.follows(&before), || "the past was changed".to_owned());
    let saved = now.actions.len() - before.actions.len();
    one.lost += one.acknowledged.saturating_sub(saved);
    one.must(saved == 4, || format!("{saved} actions of four saves"));
    one.broken.extend(shop.verify().err());
    (one, took)
}
