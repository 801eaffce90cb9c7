//! Text from outside: whatever it holds, it is kept or refused by rule, shown harmlessly, and never runs.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::as_conversions,
    clippy::string_slice,
    clippy::disallowed_methods,
    dead_code,
    unreachable_pub,
    missing_docs,
    reason = "tests"
)]

mod checks;
mod program;
#[path = "../flows/world.rs"]
mod world;

use proptest::prelude::*;
use std::path::Path;

/// The texts that the fuzz targets start from.
fn corpus(target: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/fuzz/corpus")
        .join(target);
    let mut files: Vec<_> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|f| f.unwrap().path())
        .collect();
    files.sort();
    assert!(!files.is_empty(), "{} is empty", folder.display());
    files.iter().map(|f| std::fs::read(f).unwrap()).collect()
}

/// A text from the corpus with a few bytes cut, doubled or replaced: near enough to the right form to get far.
fn bent(target: &'static str) -> impl Strategy<Value = Vec<u8>> {
    let bytes = prop_oneof![
        any::<u8>(),
        prop::sample::select(
            b"=+-@,.;:\"'[]{}#\t\r\n\0 0123456789%\x1b\x9b\xff\xe2\x80\xae".to_vec()
        ),
    ];
    let change = (
        any::<prop::sample::Index>(),
        0_u8..4,
        prop::collection::vec(bytes, 0..6),
    );
    (
        prop::sample::select(corpus(target)),
        prop::collection::vec(change, 0..8),
    )
        .prop_map(|(mut text, changes)| {
            for (place, how, new) in changes {
                let at = place.index(text.len() + 1);
                let end = (at + new.len().max(1)).min(text.len());
                match how {
                    0 => drop(text.splice(at..end, new)),
                    1 => drop(text.splice(at..at, new)),
                    2 => drop(text.drain(at..end)),
                    _ => {
                        let again = text[at..end].to_vec();
                        text.splice(at..at, again);
                    }
                }
            }
            text
        })
}

fn lossy(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn what_the_fuzzer_starts_from_holds() {
    type Check = fn(&str);
    let texts: [(&str, Check); 5] = [
        ("recipe", checks::recipe),
        ("material", checks::material),
        ("time", checks::time),
        ("amount", checks::amount),
        ("words", checks::words),
    ];
    for (target, check) in texts {
        for text in corpus(target) {
            check(&lossy(&text));
        }
    }
    for bytes in corpus("pieces") {
        checks::pieces(&bytes);
    }
    for bytes in corpus("climate") {
        checks::climate(&bytes);
    }
    for bytes in corpus("logger") {
        checks::description(&lossy(&bytes));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_bent_list_of_pieces_is_taken_or_refused_with_a_reason(bytes in bent("pieces")) {
        checks::pieces(&bytes);
    }

    #[test]
    fn a_bent_logger_file_is_taken_or_refused_with_a_reason(bytes in bent("climate")) {
        checks::climate(&bytes);
    }

    #[test]
    fn a_bent_description_of_a_logger_is_taken_or_refused_with_a_reason(bytes in bent("logger")) {
        checks::description(&lossy(&bytes));
    }

    #[test]
    fn a_bent_recipe_is_taken_or_refused_with_a_reason(bytes in bent("recipe")) {
        checks::recipe(&lossy(&bytes));
    }

    #[test]
    fn a_bent_sheet_is_taken_or_refused_with_a_reason(bytes in bent("material")) {
        checks::material(&lossy(&bytes));
    }

    #[test]
    fn a_bent_time_is_read_or_refused_with_a_reason(bytes in bent("time")) {
        checks::time(&lossy(&bytes));
    }

    #[test]
    fn a_bent_amount_is_read_or_refused_with_a_reason(bytes in bent("amount")) {
        checks::amount(&lossy(&bytes));
    }

    #[test]
    fn bent_words_are_read_or_refused_with_a_reason(bytes in bent("words")) {
        checks::words(&lossy(&bytes));
    }

    #[test]
    fn any_bytes_at_all_are_taken_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        checks::pieces(&bytes);
        checks::climate(&bytes);
    }

    #[test]
    fn any_text_at_all_is_taken_or_refused(text in any::<String>()) {
        checks::recipe(&text);
        checks::material(&text);
        checks::description(&text);
        checks::time(&text);
        checks::amount(&text);
        checks::words(&text);
    }
}
