//! A disk that takes its time, under the open screens.

use crate::calls::with_strace;
use crate::harness::{NOW, Outcome, Row, Shop, Size, spread_waiting};
use crate::pty::Terminal;
use portable_pty::CommandBuilder;
use std::path::Path;
use std::time::{Duration, Instant};

pub const DELAY: Duration = Duration::from_millis(500);

/// What makes each sync of a program take so long; it writes its notes to `log`.
pub fn slow_syncs(log: &str) -> [&str; 10] {
    // Else each call of the program stops, and the machine is slow and not the disk.
    [
        "strace",
        "-f",
        "--seccomp-bpf",
        "-qq",
        "-o",
        log,
        "-e",
        "trace=fdatasync,fsync",
        "-e",
        "inject=fdatasync,fsync:delay_enter=500000",
    ]
}

/// The screens on this shop's ledger, inside another program.
pub fn screens(shop: &Shop, around: &[&str], environment: &[(&str, &str)]) -> Terminal {
    let mut all = around.to_vec();
    all.push(env!("CARGO_BIN_EXE_hangtime"));
    let mut command = CommandBuilder::new(all[0]);
    command.args(&all[1..]);
    command.env_clear();
    for (name, value) in environment {
        command.env(name, value);
    }
    command.cwd(&shop.folder);
    command.args(["--at", NOW, "--as", "MK", "--station", "booth"]);
    command.arg("--ledger");
    command.arg(&shop.ledger);
    Terminal::start(30, 100, command)
}

/// The environment of an ordinary terminal.
pub fn ordinary(home: &Path) -> [(&str, &str); 4] {
    [
        ("TERM", "xterm-256color"),
        ("LANG", "C.UTF-8"),
        ("HOME", home.to_str().unwrap()),
        ("PATH", "/usr/bin:/bin"),
    ]
}

/// Coats are saved on the screens while each sync takes half a second.
pub fn disk(size: Size) -> Row {
    with_strace(
        "R-06",
        "a slow disk (0.5 s a sync) under the open screens",
        |row| {
            let saves = size.pick(2, 20, 100);
            let jobs: Vec<usize> = (0..saves)
                .step_by(4)
                .map(|from| 4.min(saves - from))
                .collect();
            let mut keys = Vec::new();
            let mut took = Vec::new();
            for (one, mut k, mut t) in spread_waiting(&jobs, |racks| shift(*racks)) {
                row.take(one);
                keys.append(&mut k);
                took.append(&mut t);
            }
            let acknowledged = row.acknowledged;
            row.must(keys.len() == saves && acknowledged == saves, || {
                format!("{acknowledged} saves and {} keys of {saves}", keys.len())
            });
            keys.sort_unstable();
            took.sort_unstable();
            let (middle, longest) = (keys.get(keys.len() / 2), keys.last());
            row.must(middle.is_some_and(|m| *m < DELAY / 2), || {
                format!("a key was answered after {middle:?} while a sync took {DELAY:?}")
            });
            let ms = |d: Option<&Duration>| d.map_or(0, Duration::as_millis);
            row.note(format!(
                "a key answered while saving after {} ms, at the longest {} ms; a save took {} ms",
                ms(middle),
                ms(longest),
                ms(took.get(took.len() / 2))
            ));
        },
    )
}

// One terminal that coats some racks one after another.
fn shift(racks: usize) -> (Outcome, Vec<Duration>, Vec<Duration>) {
    let shop = Shop::new();
    let before = shop.record().unwrap();
    let mut one = Outcome::default();
    let (mut keys, mut took) = (Vec::new(), Vec::new());
    let log = shop.folder.join("calls");
    let around = slow_syncs(log.to_str().unwrap());
    let mut terminal = screens(&shop, &around, &ordinary(&shop.folder));
    terminal.wait("W0");
    for rack in 0..racks {
        // A scan: very fast typing, ended by CR.
        terminal.press(&format!("W{rack}\r"));
        terminal.wait("What was done?");
        terminal.press("c");
        // What speaks against it comes with the line that is kept first: an Enter before that only looks.
        terminal.wait("included");
        one.faults += 1;
        let begin = Instant::now();
        // A finger that does not trust the key.
        terminal.press("\r");
        let said = terminal.until(&["saving ..."], Duration::from_secs(5));
        one.broken.extend(said.err());
        terminal.press("\r");
        terminal.press("\r\r");
        let asked = Instant::now();
        terminal.press("W3\r");
        // The answer stands on the screen while it still says that it saves.
        match terminal.until(
            &["\"W3\" was not taken", "saving ..."],
            Duration::from_secs(5),
        ) {
            Ok(_) => keys.push(asked.elapsed()),
            Err(why) => one.broken.push(format!("rack {rack}: {why}")),
        }
        let saved = format!("saved: Rack W{rack} ");
        match terminal.until(&[&saved], Duration::from_secs(20)) {
            Ok(_) => {
                one.acknowledged += 1;
                took.push(begin.elapsed());
            }
            Err(why) => one.broken.push(format!("rack {rack}: {why}")),
        }
        one.must(begin.elapsed() > DELAY, || {
            format!(
                "rack {rack}: saved after {:?}: the disk was not slow",
                begin.elapsed()
            )
        });
        terminal.press("\r");
        terminal.wait("scan: _");
    }
    terminal.press("q");
    let code = terminal.ends();
    one.must(code == 0, || format!("ended with {code}"));
    let now = shop.record().unwrap();
    one.must(now.follows(&before), || "the past was changed".to_owned());
    let added = now.actions.len() - before.actions.len();
    let coats = now.entries.len() - before.entries.len();
    one.must(added == racks && coats == 4 * racks, || {
        format!("{added} actions with {coats} coats where {racks} with 4 each were saved")
    });
    one.lost += one.acknowledged.saturating_sub(added);
    one.broken.extend(shop.verify().err());
    (one, keys, took)
}
