//! P4, P6, P11, P12: the program itself, in a terminal.

use crate::Ground;
use crate::plant::Plant;
use crate::shop::{piece, stamp, who};
use crate::table::{Line, Times, shown, timed};
use crate::terminal::Terminal;
use hangtime::ledger::{DeedRequest, DeedWhat, Included, Ledger};
use hangtime::shop::record::Fact;
use hangtime::units::Film;
use portable_pty::CommandBuilder;
use std::io::{Read as _, Write as _};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const ROWS: u16 = 70;
const COLS: u16 = 250;
const LONGEST: Duration = Duration::from_mins(1);

fn program(path: &Path, plant: &Plant, home: &Path) -> CommandBuilder {
    let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_hangtime"));
    command.args(["--ledger", path.to_str().unwrap()]);
    command.args([
        "--at",
        &plant.time(),
        "--as",
        "AB",
        "--station",
        "bench",
        "screen",
        "floor",
    ]);
    command.env("TERM", "xterm-256color");
    command.env("LANG", "C.UTF-8");
    command.env("HOME", home);
    command.env("XDG_DATA_HOME", home);
    command
}

// Waits without a pause: what is measured is shorter than a sleep.
fn until(terminal: &Terminal, shows: impl Fn(&str) -> bool) -> Duration {
    let begin = Instant::now();
    let mut seen = 0;
    loop {
        let text = {
            let held = terminal.screen.lock().unwrap();
            if held.2.len() == seen {
                None
            } else {
                seen = held.2.len();
                Some(held.0.screen().contents())
            }
        };
        if text.as_deref().is_some_and(&shows) {
            return begin.elapsed();
        }
        assert!(begin.elapsed() < LONGEST, "{}", terminal.text());
        std::thread::yield_now();
    }
}

fn started(path: &Path, plant: &Plant) -> (Duration, Terminal, tempfile::TempDir) {
    let home = tempfile::tempdir().unwrap();
    let begin = Instant::now();
    let terminal = Terminal::start(ROWS, COLS, program(path, plant, home.path()));
    // Its last line of pieces stands there: the frame is full.
    until(&terminal, |text| {
        text.matches("B-0").count() + text.matches("N-0").count() >= usize::from(ROWS) - 20
    });
    (begin.elapsed(), terminal, home)
}

// How long after `begin` the terminal took more bytes than `before`; without a pause, as what is measured is shorter than one.
fn answered(terminal: &Terminal, before: usize, begin: Instant) -> Duration {
    while terminal.screen.lock().unwrap().2.len() == before {
        assert!(
            begin.elapsed() < Duration::from_secs(10),
            "{}",
            terminal.text()
        );
        std::thread::yield_now();
    }
    begin.elapsed()
}

fn leave(mut terminal: Terminal) {
    terminal.child.kill().unwrap();
    terminal.child.wait().unwrap();
}

pub fn start(ground: &Ground) -> Vec<Line> {
    let other = |plant: &Plant| {
        let done = Command::new("sqlite3")
            .args([
                "-readonly",
                plant.path.to_str().unwrap(),
                "SELECT * FROM piece LIMIT 1",
            ])
            .stdout(Stdio::null())
            .status();
        assert!(
            done.is_ok_and(|s| s.success()),
            "sqlite3 is needed for this line"
        );
    };
    let measured = |plant: &Plant| {
        let (mut ours, mut theirs) = (Vec::new(), Vec::new());
        for _ in 0..ground.times(9) {
            let (took, terminal, _home) = started(&plant.path, plant);
            leave(terminal);
            ours.push(took);
            theirs.push(timed(|| other(plant)).0);
        }
        (Times::of(ours), Times::of(theirs))
    };
    let (ours, theirs) = measured(&ground.plant);
    let mut lines = vec![Line {
        id: "P4",
        what: format!("start to the first full frame, {COLS}x{ROWS}"),
        ours: shown(ours.median()),
        against: format!(
            "sqlite3 with one row of the file {}",
            shown(theirs.median())
        ),
        ratio: format!("{:.1}", ours.median() / theirs.median()),
        goal: "<= 2",
    }];
    if let Some(tenth) = &ground.tenth {
        let (small, _) = measured(tenth);
        lines.push(Line {
            id: "P4",
            what: "the same, against a tenth of the history".to_owned(),
            ours: shown(ours.median()),
            against: format!("a tenth {}", shown(small.median())),
            ratio: format!("{:.2}", ours.median() / small.median()),
            goal: "<= 1.1",
        });
    }
    lines
}

// Time on a processor that all threads of a process had, in ns.
fn on_cpu(pid: u32) -> u64 {
    std::fs::read_dir(format!("/proc/{pid}/task"))
        .unwrap()
        .filter_map(|t| std::fs::read_to_string(t.unwrap().path().join("schedstat")).ok())
        .map(|text| text.split(' ').next().unwrap().parse::<u64>().unwrap())
        .sum()
}

pub fn others(ground: &Ground) -> Vec<Line> {
    let (_folder, path) = ground.copy(&ground.plant);
    let (_, terminal, _home) = started(&path, &ground.plant);
    let mut ledger = Ledger::open(&path).unwrap();
    std::thread::sleep(Duration::from_secs(2));
    let pid = terminal.child.process_id().unwrap();
    let before = on_cpu(pid);
    let begin = Instant::now();
    std::thread::sleep(Duration::from_secs(ground.times(20).try_into().unwrap()));
    let idle = (on_cpu(pid) - before) as f64 / begin.elapsed().as_nanos() as f64 * 100.0;
    let memory = terminal.memory("VmRSS");
    // A piece that the page shows gets another film each time, and the page shows it.
    let shown_first = |text: &str| {
        let at = text.find("B-0").or_else(|| text.find("N-0")).unwrap();
        text[at..at + 8].to_owned()
    };
    let serial = shown_first(&terminal.text());
    let mut times = Vec::new();
    for n in 0..i64::try_from(ground.times(60)).unwrap() {
        let film = 40 + n;
        let mut request = DeedRequest::new(
            who("AB"),
            piece(&serial),
            DeedWhat::Other(Fact::Gauged {
                film: Film(film * 1_000),
            }),
            ground.plant.now,
        );
        request.included = Included::All;
        let before = terminal.screen.lock().unwrap().2.len();
        ledger.log(&request, &stamp(ground.plant.now)).unwrap();
        let begin = Instant::now();
        times.push(answered(&terminal, before, begin));
        std::thread::sleep(Duration::from_millis(
            400 + u64::try_from(n * 7 % 50).unwrap(),
        ));
    }
    leave(terminal);
    let times = Times::of(times);
    let (_, entries, _) = ground.plant.counts();
    let bytes = std::fs::metadata(&ground.plant.path).unwrap().len() as f64 / entries as f64;
    vec![
        Line {
            id: "P6",
            what: format!(
                "another's save on my screen: p99; median {}",
                shown(times.median())
            ),
            ours: shown(times.share(99)),
            against: "a poll each 250 ms: median 125 ms, p99 248 ms".to_owned(),
            ratio: format!("{:.0}", 125.0 / times.median()),
            goal: "p99 <= 10 ms",
        },
        Line {
            id: "P6",
            what: "the screens with nothing to do, of one core".to_owned(),
            ours: format!("{idle:.3} %"),
            against: "-".to_owned(),
            ratio: "-".to_owned(),
            goal: "<= 0.02 %",
        },
        Line {
            id: "P12",
            what: "memory of the screens".to_owned(),
            ours: format!("{:.1} MB", memory as f64 / 1_024.0),
            against: "-".to_owned(),
            ratio: "-".to_owned(),
            goal: "<= 24 MB",
        },
        Line {
            id: "P12",
            what: "the ledger's file for each entry, all in".to_owned(),
            ours: format!("{bytes:.0} B"),
            against: "-".to_owned(),
            ratio: "-".to_owned(),
            goal: "<= 150 B",
        },
    ]
}

// How long a pseudo-terminal takes to hand on a full frame.
fn frame(bytes: &[u8]) -> Duration {
    let pair = portable_pty::native_pty_system()
        .openpty(crate::terminal::size(ROWS, COLS))
        .unwrap();
    let mut command = CommandBuilder::new("sh");
    command.args(["-c", "stty raw -echo; printf .; sleep 60"]);
    let mut child = pair.slave.spawn_command(command).unwrap();
    let mut reader = pair.master.try_clone_reader().unwrap();
    let mut one = vec![0; 65_536];
    assert_eq!(reader.read(&mut one).unwrap(), 1);
    let mut slave = std::fs::OpenOptions::new()
        .write(true)
        .open(pair.master.tty_name().unwrap())
        .unwrap();
    let begin = Instant::now();
    let took = std::thread::scope(|scope| {
        scope.spawn(move || slave.write_all(bytes).unwrap());
        let mut read = 0;
        while read < bytes.len() {
            read += reader.read(&mut one).unwrap();
        }
        begin.elapsed()
    });
    child.kill().unwrap();
    child.wait().unwrap();
    took
}

pub fn key(ground: &Ground) -> Vec<Line> {
    let (_, mut terminal, _home) = started(&ground.plant.path, &ground.plant);
    std::thread::sleep(Duration::from_secs(1));
    let whole = terminal.screen.lock().unwrap().2.clone();
    let theirs = Times::of((0..15).map(|_| frame(&whole)).collect());
    let mut times = Vec::new();
    for n in 0..ground.times(200) {
        let before = terminal.screen.lock().unwrap().2.len();
        let begin = Instant::now();
        terminal.press(if n % 40 < 20 { "\x1b[B" } else { "\x1b[A" });
        times.push(answered(&terminal, before, begin));
        std::thread::sleep(Duration::from_millis(40));
    }
    leave(terminal);
    let times = Times::of(times);
    vec![Line {
        id: "P11",
        what: format!(
            "from a key to its changed frame; p99 {}",
            shown(times.share(99))
        ),
        ours: shown(times.median()),
        against: format!(
            "the terminal's own time, {} bytes {}",
            whole.len(),
            shown(theirs.median())
        ),
        ratio: format!("{:.1}", times.median() / theirs.median()),
        goal: "< 8 ms, p99 < 16 ms",
    }]
}
