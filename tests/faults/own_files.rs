//! The files that the program itself writes under a name that counts: exports, backups, new ledgers, drafts, the witness.
//!
//! First the order: whatever gets its name by a rename was written and synced before it, and the folder that holds the
//! name was synced after it, before anybody was told. Then a fault at every call: under the final name lies what was
//! there before or what was meant to be there, never half of it.

use crate::backups::points;
use crate::calls::{Struck, script, strike, with_strace};
use crate::harness::{Answer, Outcome, Row, Shop, Size, settle, spread, thin};
use crate::say;
use hangtime::ledger::{Draft, Drafts};
use std::collections::{BTreeMap, BTreeSet};
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

const WATCHED: &str = "openat,write,writev,pwrite64,ftruncate,fsync,fdatasync,rename,renameat,renameat2,link,linkat,unlink,unlinkat,mkdir,mkdirat,rmdir";

// What strace saw, as far as it decides about order.
#[derive(Debug)]
enum Step {
    Wrote(String),
    Made(String),
    Synced(String),
    Renamed(String, String),
    Removed(String),
    Told,
}

// A call of the log, whose end may stand on a later line than its beginning.
fn steps(log: &str) -> Vec<Step> {
    let mut open: BTreeMap<&str, String> = BTreeMap::new();
    let mut all = Vec::new();
    for line in log.lines() {
        let Some((pid, rest)) = line.split_once(' ') else {
            continue;
        };
        let rest = rest.trim_start();
        let whole = if let Some(begun) = rest.strip_suffix("<unfinished ...>") {
            open.insert(pid, begun.to_owned());
            continue;
        } else if let Some((_, end)) = rest.split_once(" resumed>") {
            open.remove(pid).unwrap_or_default() + end
        } else {
            rest.to_owned()
        };
        all.extend(step(&whole));
    }
    all
}

fn step(call: &str) -> Option<Step> {
    let (said, result) = call.rsplit_once(" = ")?;
    if result.starts_with('-') || result.starts_with('?') {
        return None;
    }
    let (name, arguments) = said.split_once('(')?;
    // With -y the first argument is the number with its file: 5</folder/file>.
    let file = || {
        let (_, rest) = arguments.split_once('<')?;
        Some(rest.split_once('>')?.0.to_owned())
    };
    // A name is given as it is, or in a folder that was opened before.
    let named = |n: usize| {
        let name = arguments.split('"').skip(1).step_by(2).nth(n)?;
        Some(match file().filter(|_| !name.starts_with('/')) {
            Some(folder) => format!("{folder}/{name}"),
            None => name.to_owned(),
        })
    };
    Some(match name {
        "write" | "writev" if arguments.starts_with("1<") => Step::Told,
        "write" | "writev" | "pwrite64" | "ftruncate" => Step::Wrote(file()?),
        "fsync" | "fdatasync" => Step::Synced(file()?),
        "openat" if arguments.contains("O_CREAT") => Step::Made(named(0)?),
        "mkdir" | "mkdirat" => Step::Made(named(0)?),
        "rename" | "renameat" | "renameat2" | "link" | "linkat" => {
            Step::Renamed(named(0)?, named(1)?)
        }
        "unlink" | "unlinkat" | "rmdir" => Step::Removed(named(0)?),
        _ => return None,
    })
}

fn parent(path: &str) -> &str {
    path.rsplit_once('/').map_or("", |(folder, _)| folder)
}

// What is wrong with the order of these steps inside a folder in which some files lay before.
fn disorder(steps: &[Step], folder: &str, there: &[String]) -> Vec<String> {
    // The engine's index and our turn file hold nothing that must outlive the machine.
    let counts = |path: &str| {
        let index = ["-shm", ".turn"].iter().any(|end| path.ends_with(end));
        path.starts_with(folder) && !index
    };
    let (mut unsynced, mut unlisted) =
        (BTreeSet::new(), BTreeMap::<String, BTreeSet<String>>::new());
    let mut given: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    let mut known: BTreeSet<String> = there.iter().cloned().collect();
    let mut wrong = Vec::new();
    let end = [Step::Told];
    for step in steps.iter().chain(&end) {
        match step {
            Step::Wrote(path) if counts(path) => {
                unsynced.insert(path.clone());
            }
            Step::Made(path) if counts(path) && known.insert(path.clone()) => {
                let new = path.ends_with("ledger.witness");
                let list = if new { &mut given } else { &mut unlisted };
                list.entry(parent(path).to_owned())
                    .or_default()
                    .insert(path.clone());
            }
            Step::Synced(path) => {
                unsynced.remove(path);
                unlisted.remove(path);
                given.remove(path);
            }
            Step::Renamed(old, new) if counts(old) || counts(new) => {
                let inside = format!("{old}/");
                for path in unsynced
                    .iter()
                    .filter(|p| *p == old || p.starts_with(&inside))
                {
                    wrong.push(format!("{new} got its name before {path} was synced"));
                }
                if let Some(list) = unlisted.get(old) {
                    wrong.push(format!(
                        "{new} got its name before {list:?} were synced in it"
                    ));
                }
                unsynced.retain(|p: &String| p != old && !p.starts_with(&inside));
                for list in unlisted.values_mut() {
                    list.remove(old);
                }
                given
                    .entry(parent(new).to_owned())
                    .or_default()
                    .insert(new.clone());
            }
            Step::Removed(path) => {
                known.remove(path);
                unsynced.remove(path);
                for list in unlisted.values_mut().chain(given.values_mut()) {
                    list.remove(path);
                }
                unlisted.retain(|_, l| !l.is_empty());
            }
            Step::Told => {
                for path in &unsynced {
                    wrong.push(format!("told before {path} was synced"));
                }
                for (folder, list) in &given {
                    for path in list {
                        wrong.push(format!("told before {folder} was synced with {path} in it"));
                    }
                }
            }
            _ => {}
        }
    }
    wrong.sort();
    wrong.dedup();
    wrong
}

#[test]
fn the_order_checker_sees_what_is_out_of_order() {
    let seen = |log: &str| disorder(&steps(log), "/f", &[]);
    let write = "7 openat(AT_FDCWD, \"/f/a.new\", O_WRONLY|O_CREAT, 0660) = 3</f/a.new>\n7 write(3</f/a.new>, \"x\", 1) = 1\n";
    let sync = "7 fsync(3</f/a.new>) = 0\n";
    let halves = "7 fsync(3</f/a.new> <unfinished ...>\n8 write(9</g>, \"\", 0) = 0\n7 <... fsync resumed>) = 0\n";
    let name = "7 rename(\"/f/a.new\", \"/f/a\") = 0\n";
    let listed = "7 fsync(4</f>) = 0\n";
    let refused = "7 fsync(3</f/a.new>) = -1 EIO (Input/output error)\n";
    for whole in [
        [write, sync, name, listed].concat(),
        [write, halves, name, listed].concat(),
    ] {
        assert_eq!(seen(&whole), Vec::<String>::new());
    }
    for (bad, said) in [
        (
            [write, name, sync, listed].concat(),
            "before /f/a.new was synced",
        ),
        (
            [write, refused, name, listed].concat(),
            "before /f/a.new was synced",
        ),
        ([write, sync, name].concat(), "before /f was synced"),
        ([write, sync, listed, name].concat(), "before /f was synced"),
        (write.to_owned(), "told before /f/a.new"),
    ] {
        assert!(
            seen(&bad).concat().contains(said),
            "{bad}: {:?}",
            seen(&bad)
        );
    }
    // A folder's files are in it before it gets its name.
    let folder = "7 mkdir(\"/f/o.part\", 0777) = 0\n7 openat(AT_FDCWD, \"/f/o.part/a\", O_WRONLY|O_CREAT, 0660) = 3</f/o.part/a>\n7 write(3</f/o.part/a>, \"x\", 1) = 1\n7 fsync(3</f/o.part/a>) = 0\n";
    let inside = "7 fsync(4</f/o.part>) = 0\n";
    let name = "7 rename(\"/f/o.part\", \"/f/o\") = 0\n7 fsync(4</f>) = 0\n";
    assert_eq!(seen(&[folder, inside, name].concat()), Vec::<String>::new());
    assert!(
        seen(&[folder, name].concat())
            .concat()
            .contains("were synced in it")
    );
}

// Runs one command under strace and judges the order of its calls.
fn ordered(row: &mut Row, what: &str, shop: &Shop, command: impl FnOnce(&[&str]) -> Command) {
    let log = tempfile::NamedTempFile::new().unwrap();
    let trace = format!("trace={WATCHED}");
    let around = [
        "strace",
        "-f",
        "-y",
        "-qq",
        "-s",
        "4096",
        "-o",
        log.path().to_str().unwrap(),
        "-e",
        &trace,
    ];
    let there: Vec<String> = shop
        .files()
        .into_iter()
        .map(|(name, _)| shop.folder.join(name).to_str().unwrap().to_owned())
        .collect();
    let out = command(&around).stdin(Stdio::null()).output().unwrap();
    row.must(out.status.success(), || {
        format!("{what}: {:?}", Answer::of(&out))
    });
    let text = std::fs::read_to_string(log.path()).unwrap();
    let steps = steps(&text);
    let synced = steps.iter().any(|s| matches!(s, Step::Synced(_)));
    row.must(synced, || format!("{what}: nothing was synced"));
    let wrong = disorder(&steps, shop.folder.to_str().unwrap(), &there);
    row.broken
        .extend(wrong.into_iter().map(|w| format!("{what}: {w}")));
}

const SHELL: &str = "HANGTIME_DRAFT_LEDGER";
const AHEAD: usize = 60;

fn draft(tag: &str) -> Draft {
    Draft {
        id: format!("id-{tag}"),
        line: format!("Rack {tag} - clear coat 1"),
        words: vec!["coat".to_owned(), "--rack".to_owned(), tag.to_owned()],
    }
}

/// A screen that keeps a draft. Without its environment there is nothing for it to do.
#[test]
#[ignore = "the row of our own files starts it"]
fn keeps_a_draft() {
    let ledger = std::env::var(SHELL).expect("the row of our own files starts it");
    // Calls are counted thread by thread: after these, ours have higher numbers than any that the start takes.
    for _ in 0..AHEAD {
        let mut nothing = std::fs::File::options()
            .write(true)
            .open("/dev/null")
            .unwrap();
        nothing.write_all(b"x").unwrap();
    }
    match Drafts::of(Path::new(&ledger), "booth").keep(&draft("second")) {
        Ok(()) => say("kept"),
        Err(e) => say(&format!("refused: {e}")),
    }
}

fn keeper(shop: &Shop, around: &[&str]) -> Command {
    let own = std::env::current_exe().unwrap();
    let mut all = around.to_vec();
    all.push(own.to_str().unwrap());
    all.extend([
        "--exact",
        "own_files::keeps_a_draft",
        "--ignored",
        "--nocapture",
    ]);
    let mut command = Command::new(all[0]);
    command.args(&all[1..]).env(SHELL, &shop.ledger);
    command
}

/// In which order the program writes, syncs and names its own files, and what a fault at each call leaves.
pub fn written(size: Size) -> Row {
    with_strace(
        "R-08",
        "our own files: order of calls; a fault at every one",
        |row| {
            order(row);
            let orders = row.notes.len();
            row.notes.clear();
            let most = size.pick(6, 40, 10_000);
            for (what, work) in [
                ("export", exports as fn(&mut Row, usize) -> usize),
                ("import", imports),
                ("new ledger", openings),
                ("witness", witnesses),
                ("draft", drafts),
            ] {
                let points = work(row, most);
                row.note(format!("{what} {points}"));
            }
            row.note(format!("{orders} commands in order"));
        },
    )
}

fn order(row: &mut Row) {
    let base = Shop::new();
    assert_eq!(base.run("note B-0101 --why first").code, Some(0));
    let kept = base.run(&format!("backup '{}/kept.backup'", base.folder.display()));
    assert_eq!(kept.code, Some(0), "{kept:?}");
    let exported = Shop::owning(tempfile::tempdir().unwrap());
    let out = exported.folder.join("out");
    assert_eq!(
        base.run(&format!("export '{}'", out.display())).code,
        Some(0)
    );
    let lines = [
        ("a save", "note B-0101 --why more".to_owned()),
        (
            "a save without a witness",
            "note B-0101 --why more".to_owned(),
        ),
        ("a backup", "backup 'FOLDER/b.backup'".to_owned()),
        (
            "a backup of many",
            "backup --to 'FOLDER' --keep 1".to_owned(),
        ),
        ("an export", "export 'FOLDER/out'".to_owned()),
        ("a recovery", "recover 'FOLDER/kept.backup'".to_owned()),
        ("an import", format!("import '{}'", out.display())),
        (
            "a new ledger",
            "open --name Bench --zone America/New_York --demo".to_owned(),
        ),
        ("the sample", "sample".to_owned()),
        ("a ledger of an older version", "floor".to_owned()),
    ];
    let old = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/migrations/schema-1.db");
    for (what, line) in &lines {
        let shop = match *what {
            "an import" | "a new ledger" | "the sample" => {
                Shop::owning(tempfile::tempdir().unwrap())
            }
            "a ledger of an older version" => {
                let shop = Shop::owning(tempfile::tempdir().unwrap());
                std::fs::copy(&old, &shop.ledger).unwrap();
                shop
            }
            _ => base.copy(),
        };
        if *what == "a save without a witness" {
            std::fs::remove_file(shop.beside(".witness")).unwrap();
        }
        let line = line.replace("FOLDER", shop.folder.to_str().unwrap());
        let words = shop.words(&line, crate::harness::NOW, "desk");
        ordered(row, what, &shop, |around| shop.under(around, &words));
        row.note((*what).to_owned());
    }
    let drafts = Drafts::of(&base.ledger, "booth");
    drafts.keep(&draft("first")).unwrap();
    ordered(row, "a draft", &base, |around| keeper(&base, around));
    assert_eq!(drafts.held().unwrap(), Some(draft("second")));
    row.note("a draft".to_owned());
}

// A fault at each call of one command, and what lies there afterwards.
fn struck(
    row: &mut Row,
    base: &Shop,
    line: &str,
    most: usize,
    judge: impl Fn(&Shop, &Answer, &str) -> Outcome + Sync,
) -> usize {
    let script = script(base, line);
    row.must(!script.points.is_empty(), || {
        format!("{line}: no call was seen")
    });
    let jobs = points(&script, most);
    let mut count = 0;
    for one in spread(&jobs, |(fault, call, n)| {
        let Struck {
            shop,
            answer,
            reached,
            what,
            ..
        } = strike(base, &script, *fault, call, *n);
        let mut one = judge(&shop, &answer, &what);
        one.faults = usize::from(reached);
        one.broken
            .extend(answer.manners().map(|bad| format!("{what}: {bad}")));
        one
    }) {
        count += one.faults;
        row.take(one);
    }
    row.must(count * 10 >= jobs.len() * 9, || {
        format!("{line}: only {count} of {} points were reached", jobs.len())
    });
    count
}

fn exports(row: &mut Row, most: usize) -> usize {
    let base = Shop::new();
    assert_eq!(base.run("note B-0101 --why first").code, Some(0));
    let before = base.record().unwrap();
    // Whether an export is whole: what is taken in from it is the record.
    let whole = |out: &Path| {
        let taken = Shop::owning(tempfile::tempdir().unwrap());
        let answer = taken.run(&format!("import '{}'", out.display()));
        answer.code == Some(0) && taken.record().as_ref() == Ok(&before)
    };
    struck(
        row,
        &base,
        "export 'FOLDER/out'",
        most,
        |shop, answer, what| {
            let mut one = Outcome::default();
            let out = shop.folder.join("out");
            let there = out.exists();
            one.must(!there || whole(&out), || {
                format!("{what}: bears the name, and is half an export")
            });
            if answer.code == Some(0) {
                one.acknowledged += 1;
                one.lost += usize::from(!there);
            }
            if !there {
                // What was left over is in nobody's way.
                let again = shop.run(&format!("export '{}'", out.display()));
                one.must(again.code == Some(0) && whole(&out), || {
                    format!("{what}: once more: {again:?}")
                });
            }
            let settled = settle(shop, &before, "marked", &Answer::none(), what);
            one.acknowledged += settled.acknowledged;
            one.lost += settled.lost;
            one.broken.extend(settled.broken);
            one
        },
    )
}

// A command that makes the ledger itself, where none was.
fn making(
    row: &mut Row,
    line: &str,
    most: usize,
    right: impl Fn(&Shop) -> Result<(), String> + Sync,
) -> usize {
    let base = Shop::owning(tempfile::tempdir().unwrap());
    struck(row, &base, line, most, |shop, answer, what| {
        let mut one = Outcome::default();
        let there = shop.ledger.exists();
        if there && let Err(why) = right(shop) {
            one.broken
                .push(format!("{what}: bears the ledger's name, and {why}"));
        }
        if answer.code == Some(0) {
            one.acknowledged += 1;
            one.lost += usize::from(!there);
        }
        if !there {
            let again = shop.run(line);
            let right = right(shop);
            one.must(again.code == Some(0) && right.is_ok(), || {
                format!("{what}: once more: {again:?} {right:?}")
            });
        }
        one
    })
}

fn imports(row: &mut Row, most: usize) -> usize {
    let source = Shop::new();
    let out = source.folder.join("out");
    assert_eq!(
        source.run(&format!("export '{}'", out.display())).code,
        Some(0)
    );
    let record = source.record().unwrap();
    making(row, &format!("import '{}'", out.display()), most, |shop| {
        shop.verify()?;
        (shop.record()? == record)
            .then_some(())
            .ok_or_else(|| "is not what was exported".to_owned())
    })
}

fn openings(row: &mut Row, most: usize) -> usize {
    let line = "open --name Bench --zone America/New_York --demo";
    making(row, line, most, |shop| {
        shop.verify()?;
        (shop.record()?.actions.len() == 1)
            .then_some(())
            .ok_or_else(|| "holds another number of actions than its first".to_owned())
    })
}

// The newest action that a witness file names: what a reader of another hand makes of its two lines.
fn named(file: &Path) -> Option<i64> {
    let text = std::fs::read_to_string(file).ok()?;
    text.lines()
        .map(|l| l.trim_start_matches('\0'))
        .filter_map(|line| {
            let (said, check) = line.rsplit_once(' ')?;
            let right = hangtime::ledger::sha256_hex(said.as_bytes()).get(..16) == Some(check);
            let number = said.split(' ').nth(3)?.parse().ok()?;
            right.then_some(number)
        })
        .max()
}

fn witnesses(row: &mut Row, most: usize) -> usize {
    let base = Shop::new();
    assert_eq!(base.run("note B-0101 --why first").code, Some(0));
    let before = base.record().unwrap();
    let old = i64::try_from(before.actions.len()).unwrap();
    assert_eq!(named(&base.beside(".witness")), Some(old));
    let mut script = script(&base, "note B-0101 --why marked");
    script.only("shop.ledger.witness", &base);
    let mut count = 0;
    let jobs = points(&script, most);
    for one in spread(&jobs, |(fault, call, n)| {
        let Struck {
            shop,
            answer,
            reached,
            what,
            ..
        } = strike(&base, &script, *fault, call, *n);
        // Right after the fault, before anybody opens the ledger and mends it.
        let now = named(&shop.beside(".witness"));
        let mut one = settle(&shop, &before, "marked", &answer, &what);
        one.faults = usize::from(reached);
        one.must(now == Some(old) || now == Some(old + 1), || {
            format!("{what}: the witness names {now:?} where {old} or the next was expected")
        });
        // One that cannot be written leaves this action saved; the next opening mends it, or the next save stops.
        let end = named(&shop.beside(".witness"));
        let newest = shop.record().map(|r| r.actions.len() as i64);
        one.must(end.map(Ok) == Some(newest.clone()), || {
            format!("{what}: the witness stays at {end:?} of {newest:?}")
        });
        one
    }) {
        count += one.faults;
        row.take(one);
    }
    row.must(count * 10 >= jobs.len() * 9, || {
        format!(
            "witness: only {count} of {} points were reached",
            jobs.len()
        )
    });
    count
}

fn drafts(row: &mut Row, most: usize) -> usize {
    let place = tempfile::tempdir().unwrap();
    let base = Shop::empty(place.path());
    Drafts::of(&base.ledger, "booth")
        .keep(&draft("first"))
        .unwrap();
    // Its new name holds the number of the process: the calls are counted over all files, and those on the draft are
    // picked out of the list.
    let calls = ["openat", "write", "fsync", "fdatasync", "rename", "unlink"];
    let run = |shop: &Shop, call: &str, inject: Option<&str>| {
        let log = tempfile::NamedTempFile::new().unwrap();
        let trace = format!("trace={call}");
        let mut around = vec![
            "strace",
            "-f",
            "-y",
            "-qq",
            "-s",
            "4096",
            "-o",
            log.path().to_str().unwrap(),
            "-e",
            &trace,
        ];
        if let Some(inject) = inject {
            around.extend(["-e", inject]);
        }
        let out = keeper(shop, &around).stdin(Stdio::null()).output().unwrap();
        let text = std::fs::read_to_string(log.path()).unwrap();
        (String::from_utf8_lossy(&out.stdout).into_owned(), text)
    };
    let mut jobs = Vec::new();
    let folder = base.folder.to_str().unwrap().to_owned();
    for call in calls {
        let shop = base.copy();
        let (said, log) = run(&shop, call, None);
        assert!(said.contains("kept"), "{said}");
        let at = shop.folder.to_str().unwrap();
        let mut numbers: BTreeMap<&str, usize> = BTreeMap::new();
        for line in log.lines().filter(|l| !l.contains(" resumed>")) {
            let thread = line.split(' ').next().unwrap_or_default();
            let n = numbers.entry(thread).or_default();
            *n += 1;
            if line.contains(at) {
                jobs.push((call, *n, "signal=KILL", ""));
                jobs.push((call, *n, "error=EIO", ""));
                jobs.push((call, *n, "error=ENOSPC", "+"));
            }
        }
    }
    assert!(jobs.len() >= 12, "{folder}: {jobs:?}");
    let jobs = thin(jobs, most);
    let mut count = 0;
    for one in spread(&jobs, |(call, n, fault, on)| {
        let shop = base.copy();
        let inject = format!("inject={call}:{fault}:when={n}{on}");
        let what = format!("draft {inject}");
        let (said, log) = run(&shop, call, Some(&inject));
        let mut one = Outcome {
            // The end of a call may stand on a line without its file; so far only ours has come by its number.
            faults: usize::from(log.contains("INJECTED") || log.contains("killed by SIGKILL")),
            ..Outcome::default()
        };
        let drafts = Drafts::of(&shop.ledger, "booth");
        let held = drafts.held().unwrap();
        let (first, second) = (Some(draft("first")), Some(draft("second")));
        one.must(held == first || held == second, || {
            format!("{what}: neither the old nor the new draft: {held:?}")
        });
        if said.contains("kept") {
            one.acknowledged += 1;
            one.lost += usize::from(held != second);
        }
        // A refusal leaves nothing behind; a kill may, and it is in nobody's way.
        let left: Vec<String> = shop
            .files()
            .into_iter()
            .map(|(name, _)| name)
            .filter(|name| name.contains(".new-"))
            .collect();
        one.must(left.is_empty() || !said.contains("refused"), || {
            format!("{what}: left {left:?} behind")
        });
        drafts.keep(&draft("third")).unwrap();
        one.must(drafts.held().unwrap() == Some(draft("third")), || {
            format!("{what}: the next draft is not kept")
        });
        one
    }) {
        count += one.faults;
        row.take(one);
    }
    row.must(count * 10 >= jobs.len() * 9, || {
        format!("draft: only {count} of {} points were reached", jobs.len())
    });
    count
}
