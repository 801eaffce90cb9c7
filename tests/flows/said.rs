//! What is said with a deed: the line that repeats it, what the pot can hold, which action an undo means, and one line
//! for what is the same on a whole rack.

use crate::world::{World, holds};

#[test]
fn a_hook_that_is_taken_is_named_whichever_way_a_piece_comes_there() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R12", 201, 3);
    world.rack("2026-03-05 07:00", "R13", 301, 2);
    world.piece("2026-03-05 07:00", "B-0117", "G9", "");
    let desk = world.at("2026-03-06 08:00");
    for (words, wanted) in [
        (
            "move B-0201 --hook 2",
            "hook 2 has B-0202, and B-0201 would",
        ),
        ("move B-0201 --to-rack R13 --hook 1", "hook 1 has B-0301"),
        (
            "move B-0117 --to-rack R12 --hook 3 --preview",
            "hook 3 has B-0203",
        ),
        (
            "move B-0201 B-0202 --to-rack R14 --hook 5",
            "hook 5 has B-0201, and B-0202 would",
        ),
    ] {
        holds(&desk.run(words).refused(2), &[wanted]);
    }
    // A free hook, a rack that is rolled away, a piece without a rack, and a move that changes nothing.
    for words in [
        "move B-0201 --hook 9",
        "move B-0201 --hook 9",
        "move B-0202 --hook 1",
        "move --rack R12 --room 'cure room'",
        "move B-0117 --hook 1",
        "move B-0301 --room 'cure room'",
    ] {
        desk.run(words).good();
    }
    assert_eq!(world.now().json("piece show B-0202")["hook"], 1);
    assert_eq!(world.now().run("verify").code, 0);
}
