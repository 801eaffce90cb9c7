//! Keys without sense: no page stops the program, and what was saved by them is a sound record.

use crate::desk::Desk;
use hangtime::screens::keys::Key;
use hangtime::screens::msg::Msg;
use hangtime::units::Moment;

// A small generator of numbers: the same keys each time.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % limit
    }
}

#[test]
fn random_keys_and_scans_never_stop_the_screens_and_leave_a_sound_record() {
    let letters: Vec<char> = "abcdefghiklmnoprstuvwxz/:?[]0123456789BNR- "
        .chars()
        .collect();
    let named = [
        Key::Enter,
        Key::Enter,
        Key::Esc,
        Key::Tab,
        Key::BackTab,
        Key::Up,
        Key::Down,
        Key::PageUp,
        Key::PageDown,
        Key::Home,
        Key::End,
        Key::Backspace,
    ];
    let scans = [
        "R12",
        "R3",
        "B0412",
        "N0207",
        "B0430",
        "HTCOAT",
        "HTSAVE",
        "HTUNDO",
        "HTFLAWRUN",
        "HTAGO5",
    ];
    let sizes = [(80, 24), (60, 16), (40, 8), (20, 5), (120, 40)];
    let mut desk = Desk::morning();
    let mut numbers = Numbers(20_260_312);
    let mut saved = 0;
    // A million is for a night.
    let keys: usize = std::env::var("HANGTIME_RANDOM_KEYS").map_or(10_000, |n| n.parse().unwrap());
    let checked = (keys / 5).max(1);
    for step in 0..keys {
        match numbers.below(20) {
            0 => desk.scan(scans[numbers.below(scans.len())]),
            1 => desk.key(Key::F(u8::try_from(numbers.below(9) + 1).unwrap())),
            2..=5 => desk.key(named[numbers.below(named.len())]),
            _ => desk.key(Key::Char(letters[numbers.below(letters.len())])),
        }
        if step % 97 == 0 {
            let (columns, rows) = sizes[numbers.below(sizes.len())];
            desk.size(columns, rows);
            let now = Moment(desk.model.now.0 + 60_000);
            desk.tell(Msg::Now(now));
        }
        assert!(!desk.text().is_empty());
        desk.quit = false;
        if step % checked == checked - 1 {
            let ledger = desk.ledger();
            saved = ledger.head().unwrap().0;
            assert_eq!(
                ledger.verify(None).unwrap().differences,
                Vec::<String>::new()
            );
        }
    }
    assert!(saved > 30, "the keys saved something: {saved} actions");
}
