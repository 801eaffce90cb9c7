//! A factory: racks of two dozen on several terminals at once, shifts and their hand-overs, a wrong rack, and the power
//! that goes while somebody saves. The long form hangs 5,000 bodies and as many necks, by the same code.

use crate::pty::Terminal;
use crate::script::{Key, LONGEST, Look, Run, Scan, Step, Type};
use crate::seat::{Seat, goes_on, sound};
use crate::world::World;
use std::time::Duration;

/// Pieces on a rack.
const RACK: usize = 24;

/// The people of two shifts, each at a station of its own.
const FIRST: [(&str, &str, &str); 4] = [
    ("AB", "clear-1", "booth"),
    ("JB", "clear-2", "booth"),
    ("TR", "necks-1", "booth"),
    ("LW", "bench", "floor"),
];

/// Whether the long form is played.
fn long() -> bool {
    std::env::var("HANGTIME_WEEKS").is_ok_and(|f| f == "long")
}

/// A text that lives as long as the steps, which are constants elsewhere.
fn keep(text: String) -> &'static str {
    Box::leak(text.into_boxed_str())
}

/// What the screen must show.
fn shows<const N: usize>(texts: [String; N]) -> &'static [&'static str] {
    Box::leak(texts.map(keep).to_vec().into_boxed_slice())
}

/// The names of so many racks of one kind.
fn racks(letter: char, count: usize) -> Vec<&'static str> {
    (1..=count)
        .map(|n| keep(format!("{letter}R{n:03}")))
        .collect()
}

/// A list of so many racks of bodies or necks, each piece with a tag of its own.
fn list(letter: char, racks: &[&str]) -> String {
    let (kind, recipe, area) = match letter {
        'B' => ("body", "G9", "0.40 m2"),
        _ => ("neck", "N8", "0.12 m2"),
    };
    let mut list = String::from("serial,tag,kind,model,recipe,area,rack,hook\n");
    for (r, rack) in racks.iter().enumerate() {
        for hook in 1..=RACK {
            let n = r * RACK + hook;
            list.push_str(&format!(
                "{letter}-{n:05},T{letter}{n:05},{kind},Arden,{recipe},{area},{rack},{hook}\n"
            ));
        }
    }
    list
}

/// A rack is scanned and its coat is saved; the page below comes back.
fn coat(rack: &'static str, kind_and_number: &str, back: &'static str) -> Vec<Step> {
    let line = format!("Rack {rack} - {kind_and_number} - {RACK} pieces - ended");
    vec![
        (
            Scan(rack),
            shows([format!("Rack {rack}"), "What was done?".to_owned()]),
        ),
        (Key("c"), shows([line.clone(), "Enter save".to_owned()])),
        (Key("Enter"), shows([format!("saved: {line}")])),
        (Key("Enter"), shows([back.to_owned(), "scan: _".to_owned()])),
    ]
}

fn sand(rack: &'static str) -> Vec<Step> {
    let line = format!("Rack {rack} - level sand 1 - {RACK} pieces - ended");
    vec![
        (
            Scan(rack),
            shows([format!("Rack {rack}"), "level sand 1, ready".to_owned()]),
        ),
        (
            Key("s"),
            shows([line.clone(), "no recipe rule is broken".to_owned()]),
        ),
        (Key("Enter"), shows([format!("saved: {line}")])),
        (
            Key("Enter"),
            shows(["the floor".to_owned(), "scan: _".to_owned()]),
        ),
    ]
}

/// Only some hooks of a rack.
fn part(rack: &'static str, typed: &'static str, hooks: &str, pieces: usize) -> Vec<Step> {
    let line = format!("Rack {rack} hooks {hooks} - clear coat 1 - {pieces} pieces");
    vec![
        (
            Scan(rack),
            shows([format!("Rack {rack}"), "What was done?".to_owned()]),
        ),
        (Key("c"), shows([format!("Rack {rack} - clear coat")])),
        (Key("h"), &["which hooks were worked on?"]),
        (Type(typed), shows([format!("{typed}_"), line.clone()])),
        (Key("Enter"), shows([format!("saved: {line}")])),
        (
            Key("Enter"),
            shows(["the booth".to_owned(), "scan: _".to_owned()]),
        ),
    ]
}

fn leaves() -> Vec<Step> {
    vec![(Key("q"), &[])]
}

/// Gives the page of the shift's end and takes it under the next lead's initials.
fn hand_over(next: &'static str, wet: &'static str) -> Vec<Step> {
    vec![
        (Look, &["the shift  office MK"]),
        (
            Run("handover give"),
            shows(["saved: given by MK".to_owned(), wet.to_owned()]),
        ),
        (Key("Esc"), &["the shift"]),
        (Key("i"), &["your initials? _"]),
        (Type(next), shows([format!("your initials? {next}_")])),
        (Key("Enter"), shows([format!("{next} is at the terminal")])),
        (
            Run("handover take"),
            shows([format!("taken by {next}"), wet.to_owned()]),
        ),
        (Key("Esc"), &["the shift"]),
        (Key("q"), &[]),
    ]
}

struct Factory {
    world: World,
    bodies: Vec<&'static str>,
    necks: Vec<&'static str>,
}

impl Factory {
    /// All racks hang in white; some of them are at their first clear, some before their first sanding.
    fn begin() -> Self {
        let world = World::new();
        // 209 racks of 24 are 5,016.
        let count = if long() { 209 } else { 10 };
        let (bodies, necks) = (racks('B', count), racks('N', count));
        let desk = world.at("2026-03-09 06:00");
        for (person, ..) in FIRST {
            desk.run(&format!("person add {person} finisher")).good();
        }
        desk.run("person add SL supervisor").good();
        for (letter, racks) in [('B', &bodies), ('N', &necks)] {
            let file = world.file(&format!("{letter}.csv"), &list(letter, racks));
            let taken = desk.json(&format!("piece import '{}'", file.display()));
            assert_eq!(taken["pieces"], count * RACK);
        }
        for rack in &bodies[..2] {
            world.bring_to(&format!("--rack {rack}"), 3, "2026-03-13 12:30", "");
        }
        for rack in bodies[2..4].iter().chain(&necks[..1]) {
            world.bring_to(&format!("--rack {rack}"), 0, "2026-03-15 12:00", "");
        }
        let factory = Self {
            world,
            bodies,
            necks,
        };
        for rack in factory.cut() {
            let whom = format!("--rack {rack}");
            factory.world.bring_to(&whom, 0, "2026-03-15 12:00", "");
        }
        factory
    }

    /// The racks that are sprayed when the power goes.
    fn cut(&self) -> &[&'static str] {
        &self.bodies[4..if long() { 12 } else { 5 }]
    }

    fn sit(&self, at: &str, (person, station, place): (&str, &str, &str)) -> Terminal {
        let seat = Seat {
            at: Some(at),
            person: Some(person),
            station,
            place,
        };
        seat.sit(&self.world)
    }

    fn clears(&self, at: &str, rack: &str) -> Vec<u64> {
        let shown = self.world.at(at).json("floor");
        let on = shown.as_array().unwrap().iter();
        on.filter(|p| p["rack"] == rack)
            .map(|p| p["clear_coats"].as_u64().unwrap())
            .collect()
    }

    /// The next one to sit down is told what was not saved, and saves it as it was shown then.
    fn goes_on_after(&self, at: &str, rack: &'static str, number: u64) {
        let line = format!("Rack {rack} - clear coat {number} - {RACK} pieces");
        let mut terminal = self.sit(at, FIRST[0]);
        let told = [format!("not saved: {line}"), "Enter re-enter".to_owned()];
        let steps = vec![
            (Look, shows(told)),
            (Key("Enter"), shows([line.clone(), "Enter save".to_owned()])),
            (Key("Enter"), shows([format!("saved: {line}")])),
            (
                Key("Enter"),
                shows(["the booth".to_owned(), "scan: _".to_owned()]),
            ),
        ];
        goes_on(&mut terminal, &steps);
        goes_on(&mut terminal, &leaves());
        assert_eq!(terminal.ends(), 0);
    }

    /// The power goes so long after the last Enter, or as soon as the receipt is shown. Gives whether the coat was saved.
    fn power_cut(
        &self,
        [at, again]: [&str; 2],
        rack: &'static str,
        number: u64,
        wait: Option<Duration>,
    ) -> bool {
        let mut terminal = self.sit(at, FIRST[0]);
        let steps = coat(rack, &format!("clear coat {number}"), "the booth");
        goes_on(&mut terminal, &[(Look, &["coats left today"])]);
        goes_on(&mut terminal, &steps[..2]);
        terminal.press("\r");
        if let Some(wait) = wait {
            std::thread::sleep(wait);
        } else {
            let receipt = format!("saved: Rack {rack} - clear coat {number}");
            terminal.until(&[&receipt], LONGEST).unwrap();
        }
        let pid = terminal.child.process_id().unwrap().to_string();
        let killed = std::process::Command::new("kill")
            .args(["-9", &pid])
            .status();
        assert!(killed.unwrap().success());
        terminal.child.wait().unwrap();
        let counts = self.clears(again, rack);
        let saved = counts == vec![number; RACK];
        // All of the rack or nothing of it.
        assert!(saved || counts == vec![number - 1; RACK], "{counts:?}");
        assert!(saved || wait.is_some(), "a receipt was shown");
        sound(&self.world);
        saved
    }
}

#[cfg(unix)]
#[allow(clippy::print_stderr, reason = "times are said and not asserted")]
#[test]
fn two_shifts_at_five_terminals_with_a_wrong_rack_and_the_power_gone_while_saving() {
    let begin = std::time::Instant::now();
    let factory = Factory::begin();
    let world = &factory.world;
    let pieces = 2 * factory.bodies.len() * RACK;
    eprintln!("{pieces} pieces hang after {:.1?}", begin.elapsed());
    let before = sound(world)["actions"].as_i64().unwrap();
    let [b1, b2, b3, b4, b5] = factory.bodies[..5] else {
        panic!("five racks of bodies")
    };
    let n1 = factory.necks[0];

    // Monday, the first shift: four terminals are open at once.
    let early = "2026-03-16T06:00:00-04:00";
    let mut open: Vec<Terminal> = FIRST.map(|who| factory.sit(early, who)).into();
    let [clear_1, clear_2, necks_1, bench] = open.as_mut_slice() else {
        panic!("four terminals")
    };
    goes_on(
        clear_1,
        &[(Look, &["the booth  clear-1 AB", "clear 1 of 9"])],
    );
    goes_on(clear_1, &coat(b3, "clear coat 1", "the booth  clear-1 AB"));
    // The rack that is to be sanded is scanned instead of the one before the gun, and taken back.
    let wrong: Vec<Step> = vec![
        (
            Scan(b1),
            shows([format!("Rack {b1}"), "What was done?".to_owned()]),
        ),
        (
            Key("c"),
            shows([
                format!("nothing is saved yet, against it: {RACK} of {RACK} pieces"),
                format!("Rack {b1} - clear coat 4 - none of {RACK} pieces"),
            ]),
        ),
        (
            Key("x"),
            shows([format!("Rack {b1} - clear coat 4 - {RACK} pieces")]),
        ),
        (
            Key("Enter"),
            shows([format!("saved: Rack {b1} - clear coat 4")]),
        ),
        (
            Key("u"),
            shows([
                "take back action".to_owned(),
                format!("coat on rack {b1} at 06:0"),
            ]),
        ),
        (
            Key("Enter"),
            shows([
                format!("is taken back ({RACK} entries)"),
                "both stay readable".to_owned(),
            ]),
        ),
    ];
    goes_on(clear_2, &wrong);
    goes_on(clear_2, &part(b4, "17", "1-17", 17));
    goes_on(necks_1, &coat(n1, "clear coat 1", "the booth  necks-1 TR"));
    goes_on(bench, &sand(b1));
    // What the others saved is at the bench without a key, and the undo is the bench's own.
    goes_on(
        bench,
        &[
            (
                Scan(b3),
                shows([
                    format!("Rack {b3}"),
                    format!("{RACK}  next clear 2 of 9, waiting"),
                ]),
            ),
            (Key("Esc"), &["the floor", "scan: _"]),
            (
                Key("u"),
                shows(["take back action".to_owned(), format!("rack {b1} at 06:0")]),
            ),
            (Key("Esc"), &["the floor", "scan: _"]),
        ],
    );
    // A piece by the tag that hangs on it.
    let tag = keep(format!("TN{:05}", factory.necks.len() * RACK));
    let serial = format!("N-{:05}", factory.necks.len() * RACK);
    bench.press(&format!("{tag}\r"));
    let took = bench
        .until(&["card", &format!("{serial}  neck"), "receive"], LONGEST)
        .unwrap();
    eprintln!("a tag among {pieces} pieces was found and its card shown after {took:.0?}");
    for terminal in &mut open {
        terminal.press("\x1b");
        std::thread::sleep(Duration::from_millis(200));
        goes_on(terminal, &leaves());
        assert_eq!(terminal.ends(), 0);
    }
    let office = |at, steps: &[Step]| {
        let seat = Seat {
            at: Some(at),
            person: Some("MK"),
            station: "office",
            place: "shift",
        };
        seat.plays(world, steps);
    };
    office(
        "2026-03-16T14:30:00-04:00",
        &hand_over("SL", "wet, with the time"),
    );

    // The page says which hooks are not done, and the second shift does them.
    let given = world.at("2026-03-16 14:40").json("handover list");
    let page = given[0]["text"].as_str().unwrap();
    for line in [
        format!("  {b4}  clear coats  mixed: 17 at 1, 7 at 0"),
        "    clear 0 of 9: hooks 18-24".to_owned(),
    ] {
        assert!(page.contains(&line), "{line}: {page}");
    }
    assert_eq!(given[0]["taken"]["by"], "SL", "{given:#}");
    let mut clear_2 = factory.sit("2026-03-16T14:35:00-04:00", FIRST[1]);
    // What is in process is read before a rack is scanned.
    goes_on(&mut clear_2, &[(Look, &["coats left today"])]);
    goes_on(&mut clear_2, &part(b4, "18-24", "18-24", 7));
    goes_on(&mut clear_2, &leaves());
    assert_eq!(clear_2.ends(), 0);

    // The second shift sprays on, and the power goes while it saves, a little later each time.
    let mut saved = Vec::new();
    for rack in factory.cut() {
        for (number, at, again) in [
            (1, "2026-03-16T14:45:00-04:00", "2026-03-16T14:50:00-04:00"),
            (2, "2026-03-17T06:00:00-04:00", "2026-03-17T06:05:00-04:00"),
            (3, "2026-03-17T10:00:00-04:00", "2026-03-17T10:05:00-04:00"),
        ] {
            // The third time a receipt was shown: what it said is there.
            let later = Duration::from_millis(10 * u64::try_from(saved.len()).unwrap());
            let wait = Some(later).filter(|_| number < 3);
            let kept = factory.power_cut([at, again], rack, number, wait);
            if kept {
                let last = world.at(again).station("clear-1").json("last");
                assert!(last["not_saved"].is_null(), "{last:#}");
            } else {
                factory.goes_on_after(again, rack, number);
            }
            saved.push(kept);
        }
    }
    eprintln!(
        "the power went {} times, each after: saved {saved:?}",
        saved.len()
    );

    // What the record holds agrees with what the screens said.
    let at = "2026-03-20 07:00";
    for (rack, coats) in [(b1, 3), (b2, 3), (b3, 1), (b4, 1), (b5, 3), (n1, 1)] {
        assert_eq!(factory.clears(at, rack), vec![coats; RACK], "{rack}");
    }
    let actions = sound(world)["actions"].as_i64().unwrap();
    // Five deeds and one that was taken back, the rest of a rack, a hand-over given and taken, and each coat once,
    // whether the power went before or after it was saved.
    let cuts = i64::try_from(saved.len()).unwrap();
    assert_eq!(actions - before, 6 + 1 + 2 + cuts);
    for rack in factory.cut() {
        assert_eq!(factory.clears(at, rack), vec![3; RACK], "{rack}");
    }
    let open = world.at(at).json("deviations");
    assert_eq!(open, serde_json::json!([]), "{open:#}");
    eprintln!("the whole took {:.1?}", begin.elapsed());
}
