//! The built binary in a real pseudo-terminal: a short shift, and the terminal given back however it ends.

use crate::pty::{Terminal, size};
use portable_pty::CommandBuilder;
use std::num::NonZeroU16;
use std::time::{Duration, Instant};

/// A terminal and the folder that its ledger lies in.
struct Desk {
    terminal: Terminal,
    folder: tempfile::TempDir,
}

impl std::ops::Deref for Desk {
    type Target = Terminal;

    fn deref(&self) -> &Terminal {
        &self.terminal
    }
}

impl std::ops::DerefMut for Desk {
    fn deref_mut(&mut self) -> &mut Terminal {
        &mut self.terminal
    }
}

/// How many actions the sample's season has: one a line.
fn season_actions() -> usize {
    let season = include_str!("../../sample/season.txt");
    season.lines().filter(|l| !l.starts_with('#')).count()
}

/// Starts the dashboard on a demo ledger that was made from the sample.
fn start(rows: u16, cols: u16) -> Desk {
    start_with(rows, cols, &[], &[])
}

/// The same with commands before it, and with another command than the dashboard.
fn start_with(rows: u16, cols: u16, before: &[&[&str]], words: &[&str]) -> Desk {
    start_under(rows, cols, before, words, &[], |_| {})
}

/// The same inside another program, after the folder was changed.
fn start_under(
    rows: u16,
    cols: u16,
    before: &[&[&str]],
    words: &[&str],
    around: &[&str],
    change: impl FnOnce(&std::path::Path),
) -> Desk {
    let folder = tempfile::tempdir().unwrap();
    let ledger = folder.path().join("s.ledger");
    let made = assert_cmd::Command::new(env!("CARGO_BIN_EXE_hangtime"))
        .env_clear()
        .env("HOME", folder.path())
        .arg("--ledger")
        .arg(&ledger)
        .arg("sample")
        .output()
        .unwrap();
    assert!(made.status.success(), "{made:?}");
    for line in before {
        let done = assert_cmd::Command::new(env!("CARGO_BIN_EXE_hangtime"))
            .env_clear()
            .env("HOME", folder.path())
            .arg("--ledger")
            .arg(&ledger)
            .args(*line)
            .output()
            .unwrap();
        assert!(done.status.success(), "{done:?}");
    }
    change(folder.path());
    let mut all = around.to_vec();
    all.push(env!("CARGO_BIN_EXE_hangtime"));
    let mut command = CommandBuilder::new(all[0]);
    command.args(&all[1..]);
    command.env_clear();
    for (name, value) in [("TERM", "xterm-256color"), ("LANG", "C.UTF-8")] {
        command.env(name, value);
    }
    command.env("HOME", folder.path());
    command.arg("--ledger");
    command.arg(&ledger);
    command.args(["--as", "AB", "--station", "booth-1"]);
    command.args(words);
    Desk {
        terminal: Terminal::start(rows, cols, command),
        folder,
    }
}

#[test]
fn an_alert_rings_the_bell_of_a_real_terminal_once_and_a_key_takes_note_of_it() {
    let rule = [
        "alert",
        "rule",
        "set",
        "mine",
        "--for",
        "hand-over",
        "--to",
        "person AB",
        "--as",
        "DP",
    ];
    let before: [&[&str]; 2] = [&rule, &["handover", "give", "--as", "DP"]];
    let mut terminal = start_with(24, 100, &before, &[]);
    terminal.wait("alert: handover of");
    let bells = |t: &Terminal| {
        let held = t.screen.lock().unwrap();
        String::from_utf8_lossy(&held.2).matches('\u{7}').count()
    };
    // The claim goes through the record first.
    let mut left = 500;
    while bells(&terminal) == 0 {
        left -= 1;
        assert!(left > 0, "no bell came");
        std::thread::sleep(Duration::from_millis(20));
    }
    terminal.press("!");
    terminal.wait("AB has seen it");
    assert_eq!(bells(&terminal), 1);
    // The line goes with the next reading of the floor, which a busy machine takes its time for.
    let mut left = 500;
    while terminal.text().contains("alert: handover") {
        left -= 1;
        assert!(left > 0, "{}", terminal.text());
        std::thread::sleep(Duration::from_millis(20));
    }
    terminal.press("q");
}

#[test]
fn a_rack_is_scanned_coated_and_undone_in_a_real_terminal() {
    let mut terminal = start(30, 100);
    terminal.wait("Rack R1");
    // A scan: very fast typing, ended by CR.
    terminal.press("R5\r");
    terminal.wait("What was done?");
    terminal.press("c");
    let said = terminal.wait("Enter save");
    assert!(said.contains("Rack R5 - clear coat 6 - 5 pieces"), "{said}");
    assert!(said.contains("3 of 8 pieces"), "{said}");
    terminal.press("\r");
    terminal.wait("saved: Rack R5 - clear coat 6 - 5 pieces");
    terminal.press("\r");
    terminal.wait("scan: _");
    terminal.press("u");
    let next = season_actions() + 1;
    terminal.wait(&format!("take back action {next}"));
    terminal.press("\r");
    terminal.wait(&format!("action {next} is taken back (5 entries)"));
    terminal.press("q");
    assert_eq!(terminal.ends(), 0);
}

#[cfg(unix)]
#[test]
fn in_a_folder_that_cannot_be_written_the_screens_are_a_board_that_is_only_read() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    let mode = |path: &std::path::Path, mode| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    };
    let root = tempfile::tempdir()
        .unwrap()
        .path()
        .metadata()
        .unwrap()
        .uid()
        == 0;
    // Root may write everywhere, so that somebody else has to look.
    let nobody = [
        "/usr/bin/setpriv",
        "--reuid=65534",
        "--regid=65534",
        "--clear-groups",
    ];
    let around = if root { &nobody[..] } else { &[] };
    let mut terminal = start_under(30, 100, &[], &[], around, |folder| {
        mode(&folder.join("s.ledger"), 0o664);
        mode(folder, 0o555);
    });
    let said = terminal.wait("Rack R1");
    assert!(
        said.lines().nth(1).unwrap().starts_with(&format!(
            "read only: as of the last action {} of ",
            season_actions()
        )),
        "{said}"
    );
    terminal.press("R5\r");
    terminal.wait("What was done?");
    terminal.press("c");
    terminal.wait("Enter save");
    terminal.press("\r");
    let said = terminal.wait("nothing was saved");
    assert!(said.contains("the ledger /"), "{said}");
    terminal.press("\u{1b}");
    terminal.wait("the draft was dropped");
    terminal.press("q");
    terminal.ends();
    mode(terminal.folder.path(), 0o755);
}

#[test]
fn a_resize_redraws_and_quitting_gives_the_terminal_back() {
    let mut terminal = start(24, 80);
    terminal.wait("Rack R1");
    {
        let mut held = terminal.screen.lock().unwrap();
        held.0
            .screen_mut()
            .set_size(NonZeroU16::new(43).unwrap(), NonZeroU16::new(132).unwrap());
    }
    terminal.master.resize(size(43, 132)).unwrap();
    terminal.wait("Rack R3");
    terminal.press("?");
    terminal.wait("Scan or type a rack or a serial");
    terminal.press("\u{1b}");
    terminal.wait("scan: _");
    terminal.press("q");
    assert_eq!(terminal.ends(), 0);
}

#[cfg(unix)]
#[test]
fn a_signal_gives_the_terminal_back() {
    for signal in ["-TERM", "-HUP", "-INT"] {
        let mut terminal = start(24, 80);
        terminal.wait("Rack R1");
        let flags = |t: &Desk| t.master.get_termios().unwrap().local_flags.bits();
        let fresh = portable_pty::native_pty_system()
            .openpty(size(24, 80))
            .unwrap();
        let cooked = fresh.master.get_termios().unwrap().local_flags.bits();
        assert_ne!(flags(&terminal), cooked, "the keys come one by one");
        let pid = terminal.child.process_id().unwrap();
        let sent = std::process::Command::new("kill")
            .args([signal, &pid.to_string()])
            .status()
            .unwrap();
        assert!(sent.success());
        terminal.ends();
        assert_eq!(
            flags(&terminal),
            cooked,
            "{signal}: lines and echo are back"
        );
    }
}

#[cfg(unix)]
#[test]
fn a_scan_that_comes_while_the_machine_is_busy_is_one_scan() {
    use std::io::{BufRead as _, Write as _};
    let mut terminal = start(24, 80);
    terminal.wait("Rack R1");
    let pid = terminal.child.process_id().unwrap();
    // A shell that is there already is quicker with a signal than one that has to be started.
    let mut shell = std::process::Command::new("sh")
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let mut orders = shell.stdin.take().unwrap();
    let mut done = std::io::BufReader::new(shell.stdout.take().unwrap());
    let mut send = |signal: &str| {
        writeln!(orders, "kill -{signal} {pid}; echo").unwrap();
        done.read_line(&mut String::new()).unwrap();
    };
    // What stops it comes within the pause that ends a scan, or before a key was read.
    for (piece, rest) in [("B", "-0309\r"), ("B-03", "09\r"), ("", "B-0309\r")] {
        for round in 0.. {
            let pressed = Instant::now();
            terminal.press(piece);
            std::thread::sleep(Duration::from_millis(5));
            send("STOP");
            // Else there was a pause, and the machine was too busy for this test.
            let at_once = pressed.elapsed() < Duration::from_millis(15);
            terminal.press(rest);
            std::thread::sleep(Duration::from_millis(200));
            send("CONT");
            if at_once {
                terminal.wait("B-0309  body");
                terminal.press("\u{1b}");
                terminal.wait("scan: _");
                break;
            }
            assert!(round < 50, "no stop came within the pause of a scan");
            std::thread::sleep(Duration::from_millis(300));
            terminal.press("\u{1b}");
            terminal.wait("scan: _");
        }
    }
    drop(orders);
    shell.wait().unwrap();
    terminal.press("q");
    assert_eq!(terminal.ends(), 0);
}

#[cfg(target_os = "linux")]
#[test]
fn a_paste_whose_end_does_not_come_is_given_up_and_the_keyboard_lives() {
    let mut terminal = start(24, 80);
    terminal.wait("Rack R1");
    let held = terminal.memory("VmRSS");
    let text = "R1\rc\r\r".repeat(400_000);
    terminal.press(&format!("\u{1b}[200~{text}"));
    terminal.wait("a paste began and its end did not come; nothing of its 2400000 characters");
    let more = terminal.memory("VmHWM").saturating_sub(held);
    assert!(more < 2_048, "{more} kB of memory more");
    terminal.press("R1\r");
    terminal.wait("What was done?");
    terminal.press("\u{1b}");
    terminal.wait("scan: _");
    terminal.press("q");
    assert_eq!(terminal.ends(), 0);
}

#[test]
fn a_command_asks_for_the_pin_on_the_terminal_without_showing_it() {
    let by_mk = ["--as", "MK", "--pin", "830472"];
    let first = ["person", "pin", "MK", "--to", "830472", "--as", "MK"];
    let add = [&["person", "add", "AB", "supervisor"], &by_mk[..]].concat();
    let pin = [&["person", "pin", "AB", "--to", "604815"], &by_mk[..]].concat();
    let limit = [
        "limit", "enter", "--booth", "booth 1", "--value", "90fpm", "--source", "plate",
    ];
    // Who has no PIN for it is told so and not asked.
    let told = start_with(24, 80, &[&first], &limit).wait("and AB has none for it");
    assert!(!told.contains("PIN of AB:"), "{told}");
    let mut terminal = start_with(24, 80, &[&first, &add, &pin], &limit);
    terminal.wait("PIN of AB:");
    terminal.press("604816\u{7f}5\r");
    let text = terminal.wait("limit face velocity");
    assert!(!text.contains("6048"), "{text}");
    assert_eq!(terminal.ends(), 0);
}

#[test]
fn a_command_typed_in_the_screens_is_run_by_the_same_program_on_the_same_ledger() {
    let mut terminal = start(24, 80);
    terminal.wait("Rack R1,");
    terminal.press(":");
    terminal.wait(":_");
    terminal.type_slowly("recipe list");
    terminal.press("\r");
    let text = terminal.wait("G9 rev 3");
    assert!(text.contains("recipe list"), "{text}");
    terminal.press("\x1b");
    terminal.wait("scan: _");
    // A deed goes to the record under this person and station, and its one line to the message line.
    terminal.press(":");
    terminal.wait(":_");
    terminal.type_slowly("note B-0309 --why 'looks dull'");
    terminal.press("\r");
    terminal.wait("saved: B-0309 - note");
    terminal.press(":");
    terminal.wait(":_");
    terminal.type_slowly("last");
    terminal.press("\r");
    terminal.wait("last saved: B-0309 - note");
    // What fails says so with its exit code.
    terminal.press(":");
    terminal.wait(":_");
    terminal.type_slowly("--ledger nowhere ready");
    terminal.press("\r");
    terminal.wait("exit code 3");
    terminal.press("q");
    terminal.wait("scan: _");
    terminal.press("q");
    assert_eq!(terminal.ends(), 0);
}

#[test]
fn a_key_writes_down_as_read_only_the_cautions_that_the_page_showed_in_full() {
    let check: &[&str] = &["booth", "check", "booth 1", "--as", "AB"];
    let mut terminal = start_with(24, 80, &[check], &["screen", "booth"]);
    terminal.wait("not read today: r");
    terminal.press("r");
    let first = terminal.wait("more not shown and still unread");
    let saved = first.split("saved: ").nth(1).unwrap();
    let count: usize = saved.split(' ').next().unwrap().parse().unwrap();
    let whole = first.matches("    ask: ").count();
    assert!(count > 0 && whole == count, "{first}");
    terminal.press("q");
    terminal.wait("scan: _");
    terminal.press("r");
    let second = terminal.wait("saved: ");
    assert_ne!(first, second);
    terminal.press("q");
    terminal.wait("scan: _");
    terminal.press("q");
    assert_eq!(terminal.ends(), 0);
}

#[test]
fn the_screens_open_at_a_place() {
    let mut terminal = start_with(24, 80, &[], &["screen", "recipes"]);
    terminal.wait("recipes and materials");
    terminal.press("q");
    assert_eq!(terminal.ends(), 0);
}

/// Starts the program on a terminal where there is no ledger, or where one was only begun.
fn start_new(folder: tempfile::TempDir, words: &[&str]) -> Desk {
    let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_hangtime"));
    command.env_clear();
    command.env("TERM", "xterm-256color");
    command.env("LANG", "C.UTF-8");
    command.env("TZ", "America/New_York");
    command.env("HOME", folder.path());
    command.arg("--ledger");
    command.arg(folder.path().join("new.ledger"));
    command.args(words);
    Desk {
        terminal: Terminal::start(24, 80, command),
        folder,
    }
}

#[test]
fn a_new_shop_is_led_to_its_first_piece_and_can_leave_on_the_way() {
    let mut terminal = start_new(tempfile::tempdir().unwrap(), &[]);
    terminal.wait("Start your own shop?");
    terminal.press("\rTwo benches\r");
    terminal.wait("Enter takes America/New_York, the zone of this machine");
    terminal.press("\rMK\r");
    terminal.wait("Which recipe do you finish by?");
    terminal.press("\u{3}");
    assert_eq!(terminal.ends(), 0);
    // It goes on where it was left; whoever goes on says who it is.
    let mut terminal = start_new(terminal.folder, &[]);
    terminal.wait("Who goes on: your initials?");
    terminal.press("PR\r");
    terminal.wait("Which recipe do you finish by?");
    terminal.press("\r");
    terminal.wait("Your first piece: which serial?");
    terminal.press("U-0001\r\rOctave mandolin\r0.3 m2\r");
    // The floor's own rows may come a picture later than the message.
    terminal.wait("Enter opens U-0001");
    let text = terminal.wait("No lot yet");
    assert!(
        text.contains("No lot yet") && text.contains("scan: ") | text.contains("U-0001"),
        "{text}"
    );
    terminal.press("\r");
    terminal.wait("receive");
    terminal.press("w");
    terminal.wait("U-0001 - receive");
    std::thread::sleep(Duration::from_millis(60));
    terminal.press("\r");
    terminal.wait("saved");
    terminal.press("\u{3}");
    assert_eq!(terminal.ends(), 0);
    // The next start opens the floor.
    let mut terminal = start_new(terminal.folder, &["--as", "PR"]);
    terminal.wait("On no rack, 1");
    terminal.press("q");
    assert_eq!(terminal.ends(), 0);
}

#[test]
fn a_command_that_hangs_is_stopped_with_esc_and_the_screens_go_on() {
    let mut terminal = start(24, 80);
    terminal.wait("Rack R1,");
    // Nobody ever writes into this pipe, so whoever reads from it waits.
    let pipe = terminal.folder.path().join("pipe");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status();
    assert!(made.unwrap().success());
    terminal.press(":");
    terminal.wait(":_");
    terminal.type_slowly("piece import ");
    // What comes at once is taken for a scanner's line, and goes into the command.
    terminal.press(&format!("{}\r", pipe.display()));
    terminal.wait("pipe_");
    terminal.press("\r");
    terminal.wait("Esc stops it");
    terminal.press("\x1b");
    // One line goes to the message line, above the floor.
    let text = terminal.wait("it was stopped");
    assert!(text.contains("Rack R1,"), "{text}");
    terminal.press("q");
    assert_eq!(terminal.ends(), 0);
}

#[test]
fn the_screens_of_a_real_ledger_take_no_borrowed_clock() {
    let folder = tempfile::tempdir().unwrap();
    let ledger = folder.path().join("s.ledger");
    let base = |words: &[&str]| {
        let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_hangtime"));
        command.env_clear();
        command.env("TERM", "xterm-256color");
        command.env("HOME", folder.path());
        command.arg("--ledger");
        command.arg(&ledger);
        command.args(words);
        Terminal::start(24, 80, command)
    };
    let zone = "America/New_York";
    let mut made = base(&["open", "--name", "X", "--zone", zone, "--as", "MK"]);
    assert_eq!(made.ends(), 0);
    for words in [&["screen", "wall"][..], &[]] {
        let mut refused = base(&[&["--at", "2001-03-04 06:00"], words].concat());
        assert_eq!(refused.ends(), 2, "{}", refused.text());
        let said = refused.text().replace('\n', "");
        assert!(said.contains("--at is for questions"), "{said}");
        assert!(said.contains("--ended 07:00"), "{said}");
    }
}
