//! Power cuts: what lies on the disk at one moment is all that is left.
//!
//! The shop lives on an ext4 file system in an image file. For the first row that image lies on XFS, whose copy by
//! reference is one moment of it; the copy is mounted as after a power cut. For the second the file system itself is
//! shut down in the midst of writing, without its log being written out.

use crate::harness::{Dice, Mounted, Outcome, Row, Shop, Size, must_run, root, tool};
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

const WRITERS: usize = 4;

type Saved = Vec<(i64, String)>;

// Writers note until they are told to stop, or are refused; what was acknowledged is kept in order.
fn while_writing<T>(shop: &Shop, cut: impl FnOnce(&Mutex<Saved>) -> T) -> (T, Saved, Vec<String>) {
    let saved = Mutex::new(Saved::new());
    let refused = Mutex::new(Vec::new());
    let done = AtomicBool::new(false);
    let out = std::thread::scope(|scope| {
        for writer in 0..WRITERS {
            let (saved, refused, done) = (&saved, &refused, &done);
            scope.spawn(move || {
                for i in 0..100_000 {
                    if done.load(Ordering::Relaxed) {
                        break;
                    }
                    let tag = format!("p{writer}x{i:05}");
                    let answer = shop.run(&format!("note B-0101 --why {tag}"));
                    if let Some(bad) = answer.manners() {
                        refused.lock().unwrap().push(bad);
                    }
                    match (answer.code, answer.acknowledged()) {
                        (Some(0), Some(number)) => saved.lock().unwrap().push((number, tag)),
                        _ => refused.lock().unwrap().push(format!("{answer:?}")),
                    }
                }
            });
        }
        let out = cut(&saved);
        done.store(true, Ordering::Relaxed);
        out
    });
    (
        out,
        saved.into_inner().unwrap(),
        refused.into_inner().unwrap(),
    )
}

// What is missing of what was acknowledged; anything else that does not hold goes into the outcome.
fn missing(shop: &Shop, saved: &Saved, what: &str) -> (Outcome, Vec<i64>) {
    let mut one = Outcome {
        faults: 1,
        ..Outcome::default()
    };
    let verified = shop.verify();
    let Ok(now) = shop.record() else {
        one.broken
            .push(format!("{what}: cannot be read: {verified:?}"));
        return (one, saved.iter().map(|(n, _)| *n).collect());
    };
    let missing: Vec<i64> = saved
        .iter()
        .filter(|(number, tag)| now.with(&format!("\"{tag}\"")) != [*number])
        .map(|(n, _)| *n)
        .collect();
    if let Err(why) = verified {
        one.broken.push(format!("{what}: {why}"));
    }
    (one, missing)
}

fn image(folder: &Path, name: &str) -> Result<std::path::PathBuf, String> {
    let image = folder.join(name);
    let path = image.to_str().unwrap();
    std::fs::File::create(&image)
        .and_then(|f| f.set_len(48 << 20))
        .map_err(|e| e.to_string())?;
    must_run(&["mkfs.ext4", "-q", "-F", path])?;
    Ok(image)
}

fn lacks(tools: &[&str]) -> Option<String> {
    if !root() {
        return Some("mounting needs root".to_owned());
    }
    tools
        .iter()
        .find(|t| !tool(t))
        .map(|t| format!("{t} is missing"))
}

/// Copies of the disk at one moment, while four terminals write.
pub fn copied_at_once(size: Size) -> Row {
    let mut row = Row::new("R-09", "power cut: the disk as it was at one moment");
    if let Some(why) = lacks(&["mkfs.xfs", "mkfs.ext4", "losetup"]) {
        return row.skip(&why);
    }
    let own = tempfile::tempdir().unwrap();
    let outer = own.path().join("outer.img");
    let place = own.path().join("outer");
    let made = std::fs::File::create(&outer)
        .and_then(|f| f.set_len(400 << 20))
        .map_err(|e| e.to_string())
        .and_then(|()| must_run(&["mkfs.xfs", "-q", "-m", "reflink=1", outer.to_str().unwrap()]))
        .and_then(|_| Mounted::new(&["-o", "loop", outer.to_str().unwrap()], &place));
    let _outer = match made {
        Ok(mounted) => mounted,
        Err(why) => return row.skip(&why),
    };
    let mut dice = Dice::new(9);
    let cuts = size.pick(2, 40, 500);
    let mut checks = 0;
    // A new disk for every ten cuts, so that the record stays short.
    for batch in 0..cuts.div_ceil(10) {
        let disk = match image(&place, "disk.img") {
            Ok(disk) => disk,
            Err(why) => return row.skip(&why),
        };
        let inner = own.path().join("inner");
        let mounted = match Mounted::new(&["-o", "loop", disk.to_str().unwrap()], &inner) {
            Ok(mounted) => mounted,
            Err(why) => return row.skip(&why),
        };
        let shop = Shop::inside(&inner);
        must_run(&["sync", "-f", inner.to_str().unwrap()]).unwrap();
        let (copies, saved, refused) = while_writing(&shop, |saved| {
            (0..10.min(cuts - batch * 10))
                .map(|i| {
                    std::thread::sleep(
                        Duration::from_millis(40) + dice.span(Duration::from_millis(160)),
                    );
                    let until = saved.lock().unwrap().clone();
                    let copy = place.join(format!("cut-{i}.img"));
                    must_run(&[
                        "cp",
                        "--reflink=always",
                        disk.to_str().unwrap(),
                        copy.to_str().unwrap(),
                    ])
                    .unwrap();
                    (copy, until)
                })
                .collect::<Vec<_>>()
        });
        row.broken.extend(refused);
        row.acknowledged += saved.len();
        for (i, (copy, until)) in copies.iter().enumerate() {
            let at = own.path().join("cut");
            let shop = {
                let _cut = Mounted::new(&["-o", "loop", copy.to_str().unwrap()], &at).unwrap();
                Shop::empty(&at).copy()
            };
            std::fs::remove_file(copy).unwrap();
            let (one, missing) = missing(&shop, until, &format!("cut {batch}.{i}"));
            checks += until.len();
            row.take(one);
            row.lost += missing.len();
            row.must(missing.is_empty(), || {
                format!("cut {batch}.{i}: {missing:?} are missing")
            });
            let next = shop.run("note B-0101 --why next");
            row.must(next.code == Some(0), || {
                format!("cut {batch}.{i}: {next:?}")
            });
        }
        drop(mounted);
    }
    row.note(format!(
        "{checks} times an acknowledged action was looked for"
    ));
    row
}

/// The file system shut down while four terminals write, and mounted again.
pub fn shut_down(size: Size) -> Row {
    let mut row = Row::new("R-10", "power cut: the file system shut down in the midst");
    if let Some(why) = lacks(&["mkfs.ext4", "losetup", "xfs_io"]) {
        return row.skip(&why);
    }
    let own = tempfile::tempdir().unwrap();
    let mut dice = Dice::new(10);
    let mut in_flight = 0;
    for cut in 0..size.pick(2, 25, 300) {
        let disk = match image(own.path(), "disk.img") {
            Ok(disk) => disk,
            Err(why) => return row.skip(&why),
        };
        let place = own.path().join("place");
        let options = ["-o", "loop", disk.to_str().unwrap()];
        let mounted = match Mounted::new(&options, &place) {
            Ok(mounted) => mounted,
            Err(why) => return row.skip(&why),
        };
        let shop = Shop::inside(&place);
        must_run(&["sync", "-f", place.to_str().unwrap()]).unwrap();
        let (until, saved, refused) = while_writing(&shop, |saved| {
            std::thread::sleep(Duration::from_millis(40) + dice.span(Duration::from_millis(250)));
            must_run(&["xfs_io", "-x", "-c", "shutdown", place.to_str().unwrap()]).unwrap();
            let until = saved.lock().unwrap().len();
            std::thread::sleep(Duration::from_millis(30));
            until
        });
        // Whoever wrote on was told: with a sentence, and with the codes for it.
        for answer in &refused {
            row.must(answer.contains("code: Some(3)"), || {
                format!("cut {cut}: {answer}")
            });
        }
        row.must(!refused.is_empty(), || format!("cut {cut}: nobody noticed"));
        drop(mounted);
        let shop = {
            let _again = Mounted::new(&options, &place).unwrap();
            Shop::empty(&place).copy()
        };
        let (mut one, missing) = missing(&shop, &saved, &format!("cut {cut}"));
        row.acknowledged += saved.len();
        // The kernel may report the sync that is under way at this moment as done: one action, the newest.
        let newest = saved.iter().map(|(n, _)| *n).max();
        if missing.len() == 1 && missing.first() == newest.as_ref() && saved.len() >= until {
            in_flight += 1;
            // The witness may have been as lucky; then the loss is named, and that is all that can be had.
            one.broken.retain(|b| !b.contains("are no longer there"));
        } else {
            row.lost += missing.len();
            row.must(missing.is_empty(), || {
                format!("cut {cut}: {missing:?} are missing")
            });
        }
        row.take(one);
    }
    row.note(format!(
        "{in_flight} cuts took the one action whose sync was under way"
    ));
    row
}
