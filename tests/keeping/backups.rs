//! Backups while others work, how many are kept, when one is due, and the way back.

use crate::world::{Answer, World, holds, run, split};
use crate::{backups_in, files, lived_in};
use serde_json::Value;
use std::path::{Path, PathBuf};

fn folder(world: &World, name: &str) -> PathBuf {
    let folder = world.home().join(name);
    std::fs::create_dir(&folder).unwrap();
    folder
}

fn head(world: &World) -> String {
    world.now().json("verify")["head"]
        .as_str()
        .unwrap()
        .to_owned()
}

// One more action.
fn note(world: &World, at: &str) {
    world.at(at).run("note B-0201 --why 'looked at'").good();
}

// A command on a ledger of another place.
fn on(world: &World, ledger: &Path, line: &str) -> Answer {
    run(
        world.home(),
        &split(&format!("{line} --ledger '{}'", ledger.display())),
    )
}

// The newest backup of a folder, found as a person finds it: the last by its name's time.
fn newest(folder: &Path) -> PathBuf {
    backups_in(folder).pop().unwrap()
}

#[test]
fn the_oldest_backups_make_room_and_files_of_others_stay() {
    let world = lived_in();
    let to = folder(&world, "stick");
    for other in [
        "notes.backup",
        "shop-00000000-20200101T000000Z-1-00000000.backup",
    ] {
        std::fs::write(to.join(other), "not ours").unwrap();
    }
    let mut heads = Vec::new();
    for minute in 0..5 {
        note(&world, &format!("2026-03-06 13:0{minute}"));
        let done = world
            .at(&format!("2026-03-06 13:0{minute}"))
            .json(&format!("backup --to '{}' --keep 3", to.display()));
        heads.push(head(&world));
        assert_eq!(done["head"], *heads.last().unwrap());
        assert_eq!(
            done["removed"].as_array().unwrap().len(),
            usize::from(minute >= 3)
        );
    }
    let kept: Vec<PathBuf> = backups_in(&to)
        .into_iter()
        .filter(|f| std::fs::read(f).unwrap() != b"not ours")
        .collect();
    assert_eq!(kept.len(), 3);
    for (file, head) in kept.iter().zip(&heads[2..]) {
        let checked = world
            .now()
            .json(&format!("verify --backup '{}'", file.display()));
        assert_eq!(checked["head"], **head);
    }
    assert_eq!(backups_in(&to).len(), 5);
    // The folder must be there, and the number must make sense.
    holds(
        &world.now().run("backup --to nowhere").refused(2),
        &["nowhere", "is not there"],
    );
    holds(
        &world.now().run("backup --to stick --keep 0").refused(2),
        &["keep 0", "1 to 1000"],
    );
    holds(&world.now().run("backup").refused(2), &["--to FOLDER"]);
}

#[test]
fn a_planned_backup_is_written_at_the_end_of_the_first_command_after_its_time() {
    let world = lived_in();
    let to = folder(&world, "stick");
    let said = world
        .at("2026-03-09 06:00")
        .run("backup --every 24h --to stick --keep 2")
        .good();
    holds(&said.out, &["every 1 d 00 h", "2 are kept", "head "]);
    assert_eq!(backups_in(&to).len(), 1);
    holds(
        &world.now().run("entries").good().out,
        &["a backup every 1 d 00 h into"],
    );

    // Not yet: neither before its time, nor when nothing was written since.
    note(&world, "2026-03-10 05:59");
    assert_eq!(backups_in(&to).len(), 1);
    let due = world.at("2026-03-10 06:01").run("floor").good();
    holds(&due.err, &["checked after writing", "head "]);
    assert!(!due.out.contains("checked after writing"), "{}", due.out);
    assert_eq!(backups_in(&to).len(), 2);
    let idle = world.at("2026-03-12 06:01").run("floor").good();
    assert_eq!(idle.err, "");

    // Also after a save, which it holds.
    let saved = world
        .at("2026-03-12 07:00")
        .run("note B-0201 --why 'a drip'")
        .good();
    holds(&saved.err, &["checked after writing", &head(&world)]);
    assert_eq!(backups_in(&to).len(), 2, "two are kept");

    // Where it cannot be written the command was answered all the same, and it stays due.
    std::fs::rename(&to, world.home().join("unplugged")).unwrap();
    let missed = world
        .at("2026-03-14 07:00")
        .run("note B-0201 --why 'another'")
        .good();
    holds(&missed.err, &["NOT WRITTEN", "is not there", "plug in"]);
    std::fs::rename(world.home().join("unplugged"), &to).unwrap();
    holds(
        &world.at("2026-03-14 07:01").run("floor").good().err,
        &[&head(&world)],
    );

    // A clock that ran ahead once does not put off what follows.
    note(&world, "2026-03-16 07:00");
    let ahead = newest(&to);
    let name = ahead.file_name().unwrap().to_str().unwrap();
    let year = to.join(name.replacen("2026", "2036", 1));
    std::fs::rename(&ahead, year).unwrap();
    note(&world, "2026-03-18 07:00");
    holds(newest(&to).to_str().unwrap(), &["2036"]);
    assert!(
        files(&to).iter().any(|f| f.contains("20260318T110000Z")),
        "{:?}",
        files(&to)
    );

    world.now().run("backup --every never").good();
    note(&world, "2026-04-18 07:00");
    assert!(!files(&to).iter().any(|f| f.contains("202604")));
}

// A drill's copy has the shop's plan in its record. Whoever tries something out in it must not push the shop's own
// backups out of the folder.
#[test]
fn a_copy_of_the_ledger_keeps_its_hands_off_the_shop_s_backups() {
    let world = lived_in();
    let to = folder(&world, "stick");
    world
        .at("2026-03-09 06:00")
        .run("backup --every 24h --to stick --keep 1")
        .good();
    let ours = backups_in(&to);
    let copy = world.home().join("drill.ledger");
    on(&world, &copy, &format!("recover '{}'", ours[0].display())).good();
    let tried = on(
        &world,
        &copy,
        "note B-0201 --why 'tried out' --as MK --at '2026-03-12 06:00'",
    )
    .good();
    holds(&tried.err, &["NOT WRITTEN", "drill.ledger", "--every"]);
    holds(&on(&world, &copy, "backup").refused(2), &["no copy"]);
    assert_eq!(backups_in(&to), ours);
    // Put back where it belongs, the plan goes on.
    world
        .now()
        .run(&format!("recover '{}'", ours[0].display()))
        .good();
    note(&world, "2026-03-12 06:00");
    assert_ne!(backups_in(&to), ours);
    assert_eq!(backups_in(&to).len(), 1);
}

#[test]
fn a_plan_that_cannot_be_kept_is_refused() {
    let world = lived_in();
    folder(&world, "stick");
    for (line, why) in [
        (
            "backup --every 1min --to stick",
            "every 1 min is outside 15 min",
        ),
        ("backup --every often --to stick", "often"),
        ("backup --every 24h", "--to FOLDER"),
        ("backup --every 24h --to nowhere", "is not there"),
        ("backup --every 24h --to stick --keep 5000", "keep 5000"),
    ] {
        holds(&world.now().run(line).refused(2), &[why]);
    }
    assert_eq!(files(&world.home().join("stick")), Vec::<String>::new());
}

// Runs a backup whose files may not grow beyond so many blocks of 512 bytes: the writing stops in the middle.
fn cut_short(world: &World, to: &Path, blocks: u64, how: &str) -> std::process::Output {
    std::process::Command::new("sh")
        .env_clear()
        .env("HOME", world.home())
        .current_dir(world.home())
        .arg("-c")
        .arg(format!(
            "{how} ulimit -f {blocks}; exec '{}' backup --to '{}' --keep 1",
            env!("CARGO_BIN_EXE_hangtime"),
            to.display()
        ))
        .output()
        .unwrap()
}

#[cfg(target_os = "linux")]
#[test]
fn a_backup_that_is_cut_short_leaves_the_one_before_and_bears_no_name() {
    let world = lived_in();
    let to = folder(&world, "stick");
    world.now().run("backup --to stick --keep 1").good();
    let before = newest(&to);
    let bytes = std::fs::read(&before).unwrap();
    note(&world, "2026-03-07 08:00");
    let half = std::fs::metadata(world.ledger()).unwrap().len() / 512 / 2;
    // The kernel ends the program in the middle of the writing.
    let killed = cut_short(&world, &to, half, "");
    assert_eq!(killed.status.code(), None, "{killed:?}");
    // There is no room for more: the program hears of it and says so.
    let full = cut_short(&world, &to, half, "trap '' XFSZ;");
    assert_eq!(full.status.code(), Some(3), "{full:?}");
    assert!(!full.stderr.is_empty());
    assert_eq!(backups_in(&to), std::slice::from_ref(&before));
    assert_eq!(std::fs::read(&before).unwrap(), bytes);
    // The next one takes away what the killed one left.
    world.now().run("backup --to stick --keep 1").good();
    let left: Vec<String> = files(&to)
        .into_iter()
        .filter(|f| f.contains(".part"))
        .collect();
    assert_eq!(left, Vec::<String>::new());
    assert_eq!(backups_in(&to).len(), 1);
    world.now().run("verify").good();
}

// The drill is run as the README prints it, but for the place of the stick.
#[test]
fn the_recovery_drill_of_the_readme_gives_the_original_months_figures() {
    let world = lived_in();
    let stick = folder(&world, "stick");
    for hour in ["18", "20"] {
        note(&world, &format!("2026-03-06 {hour}:00"));
        world
            .at(&format!("2026-03-06 {hour}:00"))
            .run("backup --to stick --keep 14")
            .good();
    }
    folder(&world, "drill");
    let drill = include_str!("../../README.md")
        .split("### The recovery drill")
        .nth(1)
        .unwrap()
        .split("```")
        .nth(1)
        .unwrap()
        .strip_prefix("sh\n")
        .unwrap()
        .replace("/media/stick", stick.to_str().unwrap());
    assert_eq!(drill.lines().count(), 5, "{drill}");
    let program = Path::new(env!("CARGO_BIN_EXE_hangtime")).parent().unwrap();
    let done = std::process::Command::new("sh")
        .args(["-ec", &drill])
        .env_clear()
        .env("PATH", format!("{}:/usr/bin:/bin", program.display()))
        .env("HOME", world.home())
        .current_dir(world.home())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&done.stdout).into_owned();
    assert_eq!(
        done.status.code(),
        Some(0),
        "{said}{}",
        String::from_utf8_lossy(&done.stderr)
    );
    holds(&said, &[&head(&world), "no difference found"]);
    let month: Value =
        serde_json::from_slice(&std::fs::read(world.home().join("drill/month.json")).unwrap())
            .unwrap();
    assert_eq!(month, world.now().json("month 2026-03"));
    assert!(month["totals"]["voc_mg"].as_i64().unwrap() > 0, "{month}");
    let drilled = world.home().join("drill/shop.ledger");
    assert_eq!(
        on(&world, &drilled, "floor --at '2026-03-09 07:00' --json").json(),
        world.at("2026-03-09 07:00").json("floor")
    );
}

#[test]
fn a_recovery_moves_what_lay_there_aside_and_the_way_back_is_open() {
    let world = lived_in();
    world.now().run("backup old.backup").good();
    note(&world, "2026-03-07 08:00");
    let newer = head(&world);
    let said = world.now().run("recover old.backup").good().out;
    holds(
        &said,
        &[
            "moved aside: ",
            &newer,
            "must be logged again",
            "no difference found",
        ],
    );
    let ledgers = world.ledger().parent().unwrap().to_owned();
    let aside: Vec<String> = files(&ledgers)
        .into_iter()
        .filter(|f| f.contains(".replaced-") && f.ends_with('Z'))
        .collect();
    let [aside] = aside.as_slice() else {
        panic!("{:?}", files(&ledgers));
    };
    assert_ne!(head(&world), newer);
    // A ledger that was moved aside is whole: it can be put back.
    let back = world
        .now()
        .json(&format!("recover '{}'", ledgers.join(aside).display()));
    assert_eq!(back["head"], newer);
    assert_eq!(head(&world), newer);
}

#[test]
fn a_write_ahead_file_goes_aside_with_its_ledger() {
    let world = lived_in();
    world.now().run("backup old.backup").good();
    // A terminal that ended without a farewell leaves its newest action in the write-ahead file.
    let live = rusqlite::Connection::open(world.ledger()).unwrap();
    live.set_db_config(
        rusqlite::config::DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE,
        true,
    )
    .unwrap();
    live.query_row("SELECT count(*) FROM action", [], |r| r.get::<_, i64>(0))
        .unwrap();
    note(&world, "2026-03-07 08:00");
    let newer = head(&world);
    drop(live);
    let mut wal = world.ledger().into_os_string();
    wal.push("-wal");
    assert!(std::fs::metadata(&wal).unwrap().len() > 0);
    let done = world.now().json("recover old.backup");
    assert_eq!(done["replaced"]["head"], newer);
    let aside: Vec<&str> = done["aside"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| f.as_str().unwrap())
        .collect();
    assert!(aside.iter().any(|f| f.ends_with("Z-wal")), "{aside:?}");
    assert_eq!(
        world.now().json(&format!("recover '{}'", aside[0]))["head"],
        newer
    );
}

#[test]
fn while_another_terminal_has_the_ledger_open_nothing_is_moved() {
    let world = lived_in();
    world.now().run("backup old.backup").good();
    let newest = head(&world);
    let before = files(world.ledger().parent().unwrap());
    // A terminal that only looks.
    let other = hangtime::ledger::Ledger::open(&world.ledger()).unwrap();
    holds(
        &world.now().run("recover old.backup").refused(2),
        &[
            "another terminal",
            "open; nothing was changed",
            "Close hangtime",
        ],
    );
    drop(other);
    assert_eq!(head(&world), newest);
    let after: Vec<String> = files(world.ledger().parent().unwrap())
        .into_iter()
        .filter(|f| !f.ends_with(".recovering"))
        .collect();
    assert_eq!(after, before);
    world.now().run("recover old.backup").good();
}

#[test]
fn what_is_no_whole_backup_of_this_shop_is_refused_and_changes_nothing() {
    let world = lived_in();
    world.now().run("backup old.backup").good();
    let newest = head(&world);
    let stranger = World::empty();
    stranger
        .at(crate::world::OPENED)
        .run("open --name Stranger --zone America/New_York --demo")
        .good();
    stranger.now().run("backup stranger.backup").good();
    let file = |name: &str| world.home().join(name);
    std::fs::copy(
        stranger.home().join("stranger.backup"),
        file("stranger.backup"),
    )
    .unwrap();
    std::fs::write(file("text.backup"), "a text").unwrap();
    let mut bytes = std::fs::read(file("old.backup")).unwrap();
    std::fs::write(file("short.backup"), &bytes[..bytes.len() / 2]).unwrap();
    let at = bytes
        .windows(9)
        .rposition(|w| w == b"drop sand")
        .or_else(|| bytes.windows(8).rposition(|w| w == b"\"mix\":1,"))
        .unwrap();
    bytes[at + 6] = b'2';
    std::fs::write(file("flipped.backup"), &bytes).unwrap();
    rusqlite::Connection::open(file("other.backup"))
        .unwrap()
        .execute_batch("CREATE TABLE a (b)")
        .unwrap();
    for (name, why) in [
        ("missing.backup", "no such file"),
        ("text.backup", "not a database"),
        ("short.backup", "cannot be put in the ledger's place"),
        ("flipped.backup", "it is damaged: entry"),
        ("other.backup", "no hangtime ledger"),
    ] {
        let said = world.now().run(&format!("recover {name}")).refused(2);
        holds(&said, &[name, why, "nothing was changed"]);
        world
            .now()
            .run(&format!("verify --backup {name}"))
            .refused(2);
    }
    let itself = world
        .now()
        .run(&format!("recover '{}'", world.ledger().display()));
    holds(&itself.refused(2), &["is the ledger itself"]);
    holds(
        &world.now().run("recover stranger.backup").refused(2),
        &["another shop", "--other-shop"],
    );
    assert_eq!(head(&world), newest);
    world
        .now()
        .run("recover stranger.backup --other-shop")
        .good();
    assert_eq!(head(&world), stranger.now().json("verify")["head"]);
    let _: Value = world.now().json("floor");
}

#[test]
fn a_ledger_that_cannot_be_read_any_more_is_moved_aside_as_it_lay() {
    let world = lived_in();
    world.now().run("backup old.backup").good();
    std::fs::write(world.ledger(), "burnt").unwrap();
    let done = world.now().json("recover old.backup");
    assert_eq!(done["replaced"], Value::Null);
    let aside = done["aside"][0].as_str().unwrap();
    assert_eq!(std::fs::read(aside).unwrap(), b"burnt");
    world.now().run("verify").good();
}

#[test]
fn a_backup_under_four_writers_is_one_state_of_the_ledger() {
    let world = lived_in();
    let to = folder(&world, "stick");
    let before = world.count("SELECT max(seq) FROM action");
    let writers: Vec<_> = (0..4)
        .map(|w| {
            let mut notes = Vec::new();
            for n in 0..5 {
                notes.push(
                    world
                        .at("2026-03-07 08:00")
                        .station(["a", "b", "c", "d"][w])
                        .process(&format!("note B-0201 --why 'writer {w} line {n}'")),
                );
            }
            std::thread::spawn(move || {
                for mut note in notes {
                    assert!(note.output().unwrap().status.success());
                }
            })
        })
        .collect();
    for _ in 0..3 {
        world.now().run("backup --to stick --keep 14").good();
        std::thread::sleep(std::time::Duration::from_millis(1_100));
        note(&world, "2026-03-07 08:00");
    }
    for writer in writers {
        writer.join().unwrap();
    }
    let after = world.count("SELECT max(seq) FROM action");
    assert_eq!(after, before + 20 + 3);
    for file in backups_in(&to) {
        let checked = world
            .now()
            .json(&format!("verify --backup '{}'", file.display()));
        assert!((before..=after).contains(&checked["actions"].as_i64().unwrap()));
    }
}

#[test]
fn after_a_recovery_every_deed_without_the_pin_that_was_lost_says_so_and_is_listed() {
    let world = lived_in();
    let desk = world.at("2026-03-06 13:00");
    desk.run("hold B-0201 --why drip").good();
    // As long as nobody ever chose one, nothing was lost.
    let before = desk.run("lift B-0201 --why sanded").good();
    holds(&before.out, &["no PIN is set\n"]);
    desk.run("person pin MK --to 830472").good();
    desk.run("hold B-0201 --why drip").good();
    desk.run("lift B-0201 --why sanded").refused(2);
    desk.run("backup b.backup").good();
    let recovered = world.now().run("recover b.backup").good();
    let lost = "MK had a PIN, which no backup and no export carries";
    holds(&recovered.out, &[lost, "hangtime person pin MK --new"]);
    // Nobody is locked out, and nothing of it goes by without a word.
    let lifted = desk.run("lift B-0201 --why sanded").good();
    holds(
        &lifted.out,
        &["no PIN is left since the ledger was recovered"],
    );
    let tries = desk.json("person tries");
    assert_eq!(tries[0]["outcome"], "no PIN left");
    assert_eq!(tries[0]["deed"], "lifting a hold");
    assert_eq!(tries[0]["initials"], "MK");
    assert_eq!(tries.as_array().unwrap().len(), 1);
    holds(&desk.run("person list").good().out, &[lost]);
    // Chosen anew it is asked for as before.
    desk.run("person pin MK --to 604815").good();
    desk.run("hold B-0201 --why drip").good();
    desk.run("lift B-0201 --why sanded").refused(2);
    desk.run("lift B-0201 --why sanded --pin 604815").good();
    assert!(!desk.run("person list").good().out.contains("had a PIN"));
    // A PIN that was taken away by name is none that was lost.
    desk.run("person pin MK --reset").good();
    desk.run("hold B-0201 --why drip").good();
    let reset = desk.run("lift B-0201 --why sanded").good();
    holds(&reset.out, &["no PIN is set\n"]);
}
