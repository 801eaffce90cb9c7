//! The invented factory that the bench of speed measures on: the same size gives the same entries, and verify holds it.

use crate::plant::{Size, plant};
use hangtime::ledger::Ledger;

const SMALL: Size = Size {
    bodies: 3,
    days: 18,
    minutes: 1,
};

#[test]
fn the_same_size_of_a_factory_gives_the_same_entries_and_verify_holds_them() {
    let folder = tempfile::tempdir().unwrap();
    let made = |name: &str, size| plant(&folder.path().join(name), size);
    let (one, two) = (made("one.ledger", SMALL), made("two.ledger", SMALL));
    assert_eq!(one.entries(), two.entries());
    assert_eq!(one.counts(), two.counts());
    let larger = made("more.ledger", Size { bodies: 4, ..SMALL });
    assert_ne!(one.entries(), larger.entries());
    let report = Ledger::open(&one.path).unwrap().verify(None).unwrap();
    assert_eq!(report.differences, Vec::<String>::new());
    // What came in on the last fifteen days is in process; the pieces of the days before are mated.
    let there = Ledger::open(&one.path)
        .unwrap()
        .floor(one.now, None)
        .unwrap();
    assert_eq!(there.len(), 15 * 2 * 3);
}
