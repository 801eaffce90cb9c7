//! The stored pictures of the screens are those that the program draws today.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

const DRAWN_BY: &str = "cargo build && sample/pictures/draw target/debug/hangtime sample/pictures";

fn pictures(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    std::fs::read_dir(folder)
        .unwrap()
        .map(|file| file.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "svg"))
        .map(|path| {
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            (name, std::fs::read(&path).unwrap())
        })
        .collect()
}

#[cfg(unix)]
#[test]
fn the_stored_pictures_are_what_the_program_draws() {
    let stored_in = super::sample().join("pictures");
    let folder = tempfile::tempdir().unwrap();
    let Ok(done) = Command::new("bash")
        .arg(stored_in.join("draw"))
        .arg(env!("CARGO_BIN_EXE_hangtime"))
        .arg(folder.path())
        .output()
    else {
        println!("skipped: no bash on this machine");
        return;
    };
    assert!(done.status.success(), "{}", super::said(&done));
    let (stored, drawn) = (pictures(&stored_in), pictures(folder.path()));
    assert!(drawn.len() >= 11, "{:?}", drawn.keys());
    let names = |list: &BTreeMap<String, Vec<u8>>| list.keys().cloned().collect::<Vec<_>>();
    assert_eq!(
        names(&stored),
        names(&drawn),
        "draw them anew, and look at them: {DRAWN_BY}"
    );
    let differ: Vec<&String> = stored
        .iter()
        .filter(|(name, bytes)| drawn.get(*name) != Some(*bytes))
        .map(|(name, _)| name)
        .collect();
    assert!(
        differ.is_empty(),
        "{differ:?} differ from what the program draws; draw them anew, and look at them: {DRAWN_BY}"
    );
    // A page that still asks the ledger shows nothing of the shop.
    for (name, bytes) in &stored {
        let text = String::from_utf8(bytes.clone()).unwrap();
        assert!(!text.contains("reading the ledger"), "{name} shows no data");
    }
}
