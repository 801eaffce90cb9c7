//! Processes that end at any moment, and many at once.

use crate::harness::{Answer, Dice, NOW, Row, Shop, Size};
use std::process::Stdio;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

const WRITERS: usize = 4;

// One deed of a writer: its command, the moment it is done at, its mark in the record, and whether it may be refused.
struct Deed {
    line: String,
    at: String,
    tag: String,
    kind: &'static str,
    may_be_refused: bool,
}

// What a writer saw.
struct Seen {
    deed: Deed,
    station: String,
    killed: bool,
    answer: Answer,
}

fn deed(shop: &Shop, writer: usize, round: usize, last_note: Option<i64>) -> Deed {
    let tag = format!("w{writer}x{round:05}");
    let minute = chrono::TimeDelta::minutes(round as i64 * 7);
    let at = (crate::world::moment("2026-03-10 06:00") + minute)
        .format("%Y-%m-%d %H:%M")
        .to_string();
    let first = writer * 100 + 101;
    let mut may_be_refused = false;
    let (kind, line) = match round % 6 {
        0 => (
            "coat",
            format!(
                "coat --rack W{writer} --kind clear --mix 1 --amount 20mL --include all --another --reason 1 --note {tag}"
            ),
        ),
        1 => {
            let file = shop.folder.join(format!("{tag}.csv"));
            let rows = format!(
                "serial,kind,model,recipe,area\n{tag}-a,body,Arden,G9,0.40 m2\n{tag}-b,body,Arden,G9,0.40 m2\n"
            );
            std::fs::write(&file, rows).unwrap();
            ("import", format!("piece import '{}'", file.display()))
        }
        2 => (
            "coat",
            format!(
                "coat B-0{first} --kind clear --mix 1 --amount 5mL --include all --another --reason 1 --note {tag}"
            ),
        ),
        3 => {
            let file = shop.folder.join(format!("{tag}.csv"));
            let start = crate::world::moment("2026-02-10 00:00") + minute;
            let mut rows = String::from("time,temperature,humidity\n");
            for k in 0..5 {
                let t = start + chrono::TimeDelta::minutes(k);
                rows.push_str(&format!("{},21.{k} C,45 %\n", t.format("%Y-%m-%d %H:%M")));
            }
            std::fs::write(&file, rows).unwrap();
            (
                "readings",
                format!("room readings Q{writer} '{}'", file.display()),
            )
        }
        4 => ("note", format!("note B-0{first} --why {tag}")),
        _ => match last_note {
            Some(action) if round % 12 == 5 => {
                may_be_refused = true;
                ("void", format!("void --action {action} --why {tag}"))
            }
            _ => {
                // After a kill it is not known what the last deed was, and some cannot be undone.
                may_be_refused = true;
                ("undo", "undo --anyway".to_owned())
            }
        },
    };
    Deed {
        line,
        at,
        tag,
        kind,
        may_be_refused,
    }
}

/// Four writers with mixed work, each of whose processes may be killed at any moment.
pub fn at_random(size: Size) -> Row {
    let mut row = Row::new("R-01", "kill -9 at random moments, 4 writers, mixed work");
    let rounds = size.pick(18, 96, 2_000);
    let shop = Shop::new();
    let before = shop.record().unwrap();
    let start = Instant::now();
    assert_eq!(shop.copy().run("note B-0101 --why warm").code, Some(0));
    // Longer than one command alone, for four of them share the machine and the turn.
    let longest = (start.elapsed() * 2).max(Duration::from_millis(15));
    let done = AtomicBool::new(false);
    let (seen, looked): (Vec<Seen>, (usize, Vec<String>)) = std::thread::scope(|scope| {
        let shop = &shop;
        let done = &done;
        let watcher = scope.spawn(move || {
            let mut looked = 0;
            let mut wrong = Vec::new();
            while !done.load(Ordering::Relaxed) {
                looked += 1;
                let question = if looked % 2 == 0 { "verify" } else { "floor" };
                let answer = shop.run(question);
                if answer.code != Some(0) {
                    wrong.push(format!("{question} between the kills: {answer:?}"));
                }
                std::thread::sleep(Duration::from_millis(50));
            }
            (looked, wrong)
        });
        let writers: Vec<_> = (0..WRITERS)
            .map(|writer| {
                scope.spawn(move || {
                    let mut dice = Dice::new(writer + 1);
                    let mut last_note = None;
                    let mut seen = Vec::new();
                    for round in 0..rounds {
                        let deed = deed(shop, writer, round, last_note);
                        let station = format!("st-{writer}");
                        let words = shop.words(&deed.line, &deed.at, &station);
                        let mut child = shop
                            .under(&[], &words)
                            .stdin(Stdio::null())
                            .stdout(Stdio::piped())
                            .stderr(Stdio::piped())
                            .spawn()
                            .unwrap();
                        // Two of three may be cut; the others show that the work goes on.
                        if dice.below(3) > 0 {
                            std::thread::sleep(dice.span(longest));
                            child.kill().unwrap();
                        }
                        let output = child.wait_with_output().unwrap();
                        let killed = output.status.code().is_none();
                        let answer = Answer::of(&output);
                        if deed.kind == "note" && answer.code == Some(0) {
                            last_note = answer.acknowledged();
                        }
                        seen.push(Seen {
                            deed,
                            station,
                            killed,
                            answer,
                        });
                    }
                    seen
                })
            })
            .collect();
        let seen = writers
            .into_iter()
            .flat_map(|w| w.join().unwrap())
            .collect();
        done.store(true, Ordering::Relaxed);
        (seen, watcher.join().unwrap())
    });
    row.broken.extend(looked.1);
    if let Err(why) = shop.verify() {
        row.broken.push(why);
    }
    let now = shop.record().unwrap();
    row.must(now.follows(&before), || "the past was changed".to_owned());
    let mut numbers = Vec::new();
    let mut unacknowledged = 0;
    let mut kinds: std::collections::BTreeMap<&str, usize> = std::collections::BTreeMap::new();
    for one in &seen {
        let what = format!("{} ({})", one.deed.line, one.deed.tag);
        row.faults += usize::from(one.killed);
        if let Some(bad) = one.answer.manners() {
            row.broken.push(format!("{what}: {bad}"));
        }
        let found = now.with(&one.deed.tag);
        row.must(found.len() <= 1, || format!("{what}: twice, {found:?}"));
        let marked = one.deed.kind != "undo";
        if one.answer.code == Some(0) || one.answer.acknowledged().is_some() {
            row.acknowledged += 1;
            *kinds.entry(one.deed.kind).or_default() += 1;
            // Readings are told by their file's name; the others name their action.
            let number = if one.deed.kind == "readings" {
                found.first().copied()
            } else {
                one.answer.acknowledged()
            };
            let there = number.is_some_and(|n| {
                now.holds(n, &format!("|{}|", one.station)) && (!marked || found == [n])
            });
            if !there {
                row.lost += 1;
                row.broken.push(format!(
                    "{what}: acknowledged as {number:?}, found as {found:?}"
                ));
            }
            numbers.extend(number);
        } else if one.killed {
            unacknowledged += usize::from(marked && !found.is_empty());
        } else {
            row.must(
                one.answer.code == Some(2) && one.deed.may_be_refused,
                || format!("{what}: {:?}", one.answer),
            );
            row.must(found.is_empty(), || {
                format!("{what}: refused and yet saved")
            });
        }
    }
    let all = numbers.len();
    numbers.sort_unstable();
    numbers.dedup();
    row.must(numbers.len() == all, || {
        "one number was given to two deeds".to_owned()
    });
    // A handful of rounds need not come to every kind of work; the longer runs must.
    let wanted: &[&str] = if size == Size::Small {
        &[]
    } else {
        &["coat", "import", "readings", "note", "void", "undo"]
    };
    for kind in wanted {
        row.must(kinds.contains_key(*kind), || {
            format!("no {kind} was ever acknowledged: the row shows too little")
        });
    }
    row.must(row.faults > 0, || "nothing was killed".to_owned());
    row.note(format!(
        "{unacknowledged} saved and not acknowledged; {} questions between",
        looked.0
    ));
    row
}

/// Sixteen writers without a pause: each is served, none is told to come again.
pub fn sixteen_writers(size: Size) -> Row {
    let mut row = Row::new("R-18a", "16 writers without a pause");
    let each = size.pick(4, 40, 500);
    let shop = Shop::new();
    let before = shop.record().unwrap();
    let answers: Vec<(String, Duration, Answer)> = std::thread::scope(|scope| {
        let shop = &shop;
        let writers: Vec<_> = (0..16)
            .map(|writer| {
                scope.spawn(move || {
                    (0..each)
                        .map(|i| {
                            let tag = format!("s{writer:02}x{i:04}");
                            let piece = 101 + 100 * (writer % 4) + writer / 4;
                            let line = if i % 2 == 0 {
                                format!("note B-0{piece} --why {tag}")
                            } else {
                                format!("coat B-0{piece} --kind clear --include all --another --reason 1 --note {tag}")
                            };
                            let minutes = chrono::TimeDelta::minutes((16 * i + writer) as i64);
                            let at = (crate::world::moment(NOW) + minutes).format("%Y-%m-%d %H:%M").to_string();
                            let words = shop.words(&line, &at, &format!("st-{writer}"));
                            let start = Instant::now();
                            let output = shop.under(&[], &words).output().unwrap();
                            (tag, start.elapsed(), Answer::of(&output))
                        })
                        .collect::<Vec<_>>()
                })
            })
            .collect();
        writers
            .into_iter()
            .flat_map(|w| w.join().unwrap())
            .collect()
    });
    if let Err(why) = shop.verify() {
        row.broken.push(why);
    }
    let now = shop.record().unwrap();
    row.must(now.follows(&before), || "the past was changed".to_owned());
    for (tag, _, answer) in &answers {
        row.must(answer.code == Some(0), || format!("{tag}: {answer:?}"));
        row.acknowledged += 1;
        let found = now.with(&format!("\"{tag}\""));
        if found.as_slice() != answer.acknowledged().as_slice() {
            row.lost += 1;
            row.broken
                .push(format!("{tag}: {answer:?}, found as {found:?}"));
        }
    }
    row.must(
        now.actions.len() == before.actions.len() + answers.len(),
        || format!("{} actions", now.actions.len()),
    );
    let mut times: Vec<Duration> = answers.iter().map(|(_, t, _)| *t).collect();
    times.sort_unstable();
    let at = |share: usize| times[(times.len() - 1) * share / 100].as_millis();
    row.note(format!(
        "whole process median {} ms, longest {} ms",
        at(50),
        at(100)
    ));
    row
}
