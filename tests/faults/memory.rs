//! Too little memory, from too little to start with up to enough.

use crate::calls::with_tool;
use crate::harness::{Answer, Record, Row, Shop, Size, root, settle, spread, thin};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

const KB: usize = 1024;

// What the language's runtime says when it cannot begin: nothing of ours has run by then.
const NOT_BEGUN: &str = "failed to allocate an alternative stack";

// How a process ended, for the row's note: as the program ends, or as the machine ended it.
fn ending(answer: &Answer) -> String {
    match answer.code {
        _ if answer.err.contains(NOT_BEGUN) => "not begun by the runtime".to_owned(),
        Some(0) => "in order".to_owned(),
        Some(2 | 3) => "refused".to_owned(),
        None if answer.err.contains("memory allocation of") => {
            "aborted by the allocator".to_owned()
        }
        None => "killed".to_owned(),
        Some(127) => "not started by the loader".to_owned(),
        Some(code) => format!("code {code}"),
    }
}

type Around = dyn Fn(usize) -> Vec<String> + Sync;

fn run(shop: &Shop, around: &Around, limit: usize, line: &str) -> Answer {
    let words = around(limit);
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    shop.run_under(&words, line)
}

// From the largest limit under which it does not even start to the first of three that are enough.
fn bounds(base: &Shop, around: &Around, line: &str, step: usize) -> Option<(usize, usize)> {
    let mut starts = None;
    let mut enough = 0;
    for n in 1..400 {
        let answer = run(&base.copy(), around, n * step, line);
        if answer.code == Some(0) {
            enough += 1;
        } else {
            enough = 0;
        }
        let began = answer.code.is_some_and(|c| c != 127) || !answer.err.is_empty();
        if starts.is_none() && (began && answer.code != Some(127)) {
            starts = Some(n.saturating_sub(1).max(1));
        }
        if enough == 3 {
            return Some((starts.unwrap_or(1) * step, n * step));
        }
    }
    None
}

fn every_limit(
    row: &mut Row,
    what: &str,
    around: &Around,
    [unit, coarse]: [usize; 2],
    most: usize,
    begins: fn(usize, usize) -> usize,
) {
    let base = Shop::new();
    let before = base.record().unwrap();
    let floor = base.run("floor").out;
    for (line, tag) in [("note B-0101 --why marked", "marked"), ("floor", "")] {
        let Some((from, to)) = bounds(&base, around, line, coarse) else {
            row.broken
                .push(format!("{what}: no limit was enough for {line}"));
            continue;
        };
        let from = begins(from, to);
        let limits: Vec<usize> = (from / unit..=to / unit).map(|n| n * unit).collect();
        let all = limits.len();
        let limits = thin(limits, most);
        let mut endings: BTreeMap<String, usize> = BTreeMap::new();
        for (one, how) in spread(&limits, |limit| {
            let shop = base.copy();
            let answer = run(&shop, around, *limit, line);
            let what = format!("{what} {} kB: {line}", limit / KB);
            let how = ending(&answer);
            let mut said = answer.clone();
            let mut more = Vec::new();
            // An end that is not the program's own says nothing about a save: what was told counts.
            if !matches!(answer.code, Some(0 | 2 | 3)) {
                said.code = None;
                // The allocator's own words before it ends the process.
                said.err.clear();
            }
            if answer.err.contains("panicked") && !answer.err.contains(NOT_BEGUN) {
                more.push(format!("{what}: panic text: {}", answer.err));
            }
            if tag.is_empty() && answer.code == Some(0) && answer.out != floor {
                more.push(format!("{what}: another answer than with enough memory"));
            }
            if answer.code == Some(2) {
                more.push(format!("{what}: the question was blamed: {answer:?}"));
            }
            let known = Record::of(&shop.ledger);
            if tag.is_empty() && known.as_ref() != Ok(&before) {
                more.push(format!("{what}: a question changed the record"));
            }
            let mut one = if tag.is_empty() {
                settle(&shop, &before, "nothing", &Answer::none(), &what)
            } else {
                settle(&shop, &before, tag, &said, &what)
            };
            one.faults = usize::from(answer.code != Some(0));
            one.broken.extend(more);
            (one, how)
        }) {
            *endings.entry(how).or_default() += 1;
            row.take(one);
        }
        let ends: Vec<String> = endings
            .iter()
            .map(|(how, n)| format!("{n} {how}"))
            .collect();
        row.must(endings.len() > 1, || {
            format!("{what}, {line}: all ended alike: {endings:?}")
        });
        row.note(format!(
            "{what} {} to {} kB, {} of {all} steps of {}: {}",
            from / KB,
            to / KB,
            limits.len(),
            line.split(' ').next().unwrap_or(""),
            ends.join(", ")
        ));
    }
}

// A group of processes with a limit of its own; gone with its holder.
struct Group {
    folder: PathBuf,
    limit: &'static str,
}

impl Group {
    fn new() -> Result<Self, String> {
        if !root() {
            return Err("no memory group without root".to_owned());
        }
        let two = Path::new("/sys/fs/cgroup");
        let listed = std::fs::read_to_string(two.join("cgroup.subtree_control"));
        let (parent, limit) = if listed.is_ok_and(|l| l.split_whitespace().any(|w| w == "memory")) {
            (two.to_owned(), "memory.max")
        } else if two.join("memory/memory.limit_in_bytes").exists() {
            (two.join("memory"), "memory.limit_in_bytes")
        } else {
            return Err("no memory controller".to_owned());
        };
        let folder = parent.join(format!("hangtime-faults-{}", std::process::id()));
        std::fs::create_dir(&folder).map_err(|e| format!("no memory group: {e}"))?;
        Ok(Self { folder, limit })
    }
}

impl Drop for Group {
    fn drop(&mut self) {
        let inner = std::fs::read_dir(&self.folder)
            .into_iter()
            .flatten()
            .flatten();
        for group in inner.map(|f| f.path()).filter(|p| p.is_dir()) {
            let _ = std::fs::remove_dir(group);
        }
        let _ = std::fs::remove_dir(&self.folder);
    }
}

/// A save and a question with too little address space, and in a group with too little memory.
pub fn short(size: Size) -> Row {
    with_tool(
        "R-21",
        "out of memory: address space, and a memory group",
        "prlimit",
        |row| {
            let most = size.pick(10, 120, 2_000);
            let space = |limit: usize| vec!["prlimit".to_owned(), format!("--as={limit}")];
            every_limit(
                row,
                "address space",
                &space,
                [4 * KB, 1_000 * KB],
                most,
                |from, _| from,
            );
            match Group::new() {
                Err(why) => row.note(format!("memory group not run: {why}")),
                Ok(group) => {
                    let script = format!(
                        "d={0}/$$; mkdir $d && echo $1 > $d/{1} && echo $$ > $d/cgroup.procs && shift && exec \"$@\"",
                        group.folder.display(),
                        group.limit
                    );
                    let within = move |limit: usize| {
                        ["sh", "-c", &script, "sh", &limit.to_string()]
                            .map(str::to_owned)
                            .to_vec()
                    };
                    let most = size.pick(6, 60, 500);
                    // A process that is too large for its group is killed wherever it is, so that there is no other beginning.
                    every_limit(row, "group", &within, [16 * KB, 256 * KB], most, |_, to| {
                        to / 3
                    });
                }
            }
        },
    )
}
