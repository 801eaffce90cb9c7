//! Two people and twenty bodies: from an empty folder to a week that is signed and restored from its backup.

use crate::script::{Key, Look, Run, Scan, Step, Type};
use crate::seat::{Seat, sound};
use crate::world::{World, rules, texts};

/// A data sheet as its maker would give it, copied into a file.
const SHEET: &str = r#"# Clear lacquer, copied from its sheet of January.
[material]
code = "HLC"
name = "Hill Lane clear"
kind = "lacquer"
sheet = "2026-01"
sheet_date = 2026-01-12
density = "0.905 kg/L"
weight_solids = "22.0 %"
volume_solids = "15.5 %"
flash_point = "-3 C"
drying = "solvent release"
hazards = ["nitrocellulose", "flammable liquid"]
cautions = ["Highly flammable liquid and vapour."]

[[contains]]
cas = "67-64-1"
name = "acetone"
share = "12.0 %"
exempt = true
density = "0.790 kg/L"

[[contains]]
cas = "108-88-3"
name = "toluene"
share = "8.0 %"
hap = true
"#;

/// The shop's own recipe: lacquer on bare wood, two sets of three with one sanding between.
const RECIPE: &str = r#"[recipe]
code = "B4"
revision = 1
name = "Bodies, two sets"
finish = "solvent release"
kinds = ["body"]
surfaces = ["whole"]
tack_counts = false

[film]
low = "40 um"
high = "80 um"

[[step]]
name = "receive"
kind = "receive"

[[step]]
name = "first clears"
kind = "clear"
coats = 3
between = "90 min"
per_day = 3
scuff_after = "60 h"
film = "14 um"
solids = "15.5 %"

[[step]]
name = "level sand"
kind = "level-sand"
after = "12 h"
removes = "10 um"

[[step]]
name = "last clears"
kind = "clear"
coats = 3
between = "90 min"
per_day = 3
scuff_after = "60 h"
film = "14 um"
solids = "15.5 %"

[[step]]
name = "cure"
kind = "cure"
hours = "336 h"

[[step]]
name = "final sand"
kind = "final-sand"
removes = "12 um"

[[step]]
name = "buff"
kind = "buff"
stages = 2
removes = "4 um"

[[step]]
name = "inspect"
kind = "inspect"

[[step]]
name = "mate"
kind = "mate"

[cure_credit]
unlogged = 0.5

[[cure_credit.band]]
from = "16 C"
to = "20 C"
credit = 0.5

[[cure_credit.band]]
from = "20 C"
credit = 1.0
"#;

/// The pieces as a spreadsheet exports them: a mark of its own before them, semicolons, commas in numbers, its own
/// names and order, a column that is nobody's business here, one text with a semicolon in it.
fn list() -> String {
    let mut list =
        String::from("\u{feff}Due;Instrument;Type;Model;Finish;Surface m2;Customer;Stand;Hook\r\n");
    for n in 2..=20 {
        let (model, area) = if n % 2 == 0 {
            ("Concert", "0,34")
        } else {
            ("Parlour", "0,31")
        };
        let (rack, hook) = if n <= 10 {
            ("Left", n - 1)
        } else {
            ("Right", n - 10)
        };
        list.push_str(&format!(
            "2026-06-{:02};H-{n:02};body;{model};B4;{area};\"Row {n}; north\";{rack};{hook}\r\n",
            n + 10
        ));
    }
    list
}

fn folder() -> World {
    let world = World::empty();
    world.file("hlc.toml", SHEET);
    world.file("b4.toml", RECIPE);
    world.file("b4-draft.toml", &RECIPE.replace("\"90 min\"", "\"90\""));
    world.file("pieces.csv", &list());
    world
}

/// The questions of the first start.
const QUESTIONS: &[Step] = &[
    (Look, &["There is no ledger here yet", "1 of 9"]),
    (Key("Enter"), &["What is your shop called?"]),
    (Type("Two benches"), &["Enter takes Two benches"]),
    (Key("Enter"), &["In which zone does its clock run?"]),
    (Type("berlin"), &["Enter takes Europe/Berlin"]),
    (Key("Enter"), &["Initials of its first supervisor"]),
    (Type("MK"), &["Enter takes MK and starts the ledger"]),
    (
        Key("Enter"),
        &[
            "the ledger of Two benches is there",
            "Which recipe do you finish by?",
        ],
    ),
    // The first try has a wait without its unit, and the second is mended.
    (Type("b4-draft.toml"), &["Enter reads b4-draft.toml"]),
    (Key("Enter"), &["b4-draft.toml:", "between"]),
    (Key("Esc"), &["the floor", "ready 0"]),
    (Key("q"), &[]),
];

/// The walk goes on where it was left.
const GOES_ON: &[Step] = &[
    (Look, &["Which recipe do you finish by?"]),
    (Type("b4.toml"), &["Enter reads b4.toml and adopts it"]),
    (Key("Enter"), &["the recipe is adopted", "6 of 9"]),
    (Type("hlc.toml"), &["Enter reads hlc.toml and adopts it"]),
    (Key("Enter"), &["the material is adopted", "7 of 9"]),
    (Type("H-01"), &["Enter takes H-01"]),
    (Key("Enter"), &["Which model is it?", "8 of 9"]),
    (Type("Parlour"), &["Enter takes Parlour"]),
    (Key("Enter"), &["How large is the area", "9 of 9"]),
    (Type("0.31 m2"), &["Enter takes the piece in"]),
    (
        Key("Enter"),
        &["On no rack, 1", "H-01", "Enter opens H-01: w logs"],
    ),
    // The hint at the page's foot can be typed as it stands there.
    (
        Run("lot receive L1 HLC 10L"),
        &["lot L1 of HLC received, 10000 mL"],
    ),
];

/// What the shop has besides its recipe, its lacquer and a first piece.
const FURNISHES: &[Step] = &[
    (Run("person add TR finisher"), &["TR is now a finisher"]),
    (
        Run("room declare booth --every 15m"),
        &["room booth declared"],
    ),
    (
        Run("room declare bench --every 1h"),
        &["room bench declared"],
    ),
    (
        Run("limit enter --of VOC --value 5kg --period month --source 'our own figure'"),
        &["limit VOC of month: 5kg"],
    ),
    (
        Run("limit enter --room bench --air 'too cold' --value 18C --source 'our own figure'"),
        &["limit air too cold of bench: 18C"],
    ),
    (
        Run("limit enter --booth booth --value 100fpm --basis average --source 'plate on the fan'"),
        &["limit face velocity of booth: 100fpm on the average"],
    ),
    // The list as it is, and then with the list's own names said.
    (
        Run("piece import pieces.csv"),
        &[
            "its first line was refused; nothing was taken in",
            "column \"instrument\" is not known",
        ],
    ),
    (
        Run(
            "piece import pieces.csv --column serial=Instrument --column kind=Type --column recipe=Finish --column 'area=Surface m2' --column rack=Stand --leave-out Customer",
        ),
        &["pieces.csv: 19 pieces taken in"],
    ),
    // --rack says whose pieces are moved; the refusal says how a piece is hung.
    (
        Run("move H-01 --rack Left --hook 10"),
        &["nothing was saved", "--to-rack Left"],
    ),
    (
        Run("move H-01 --to-rack Left --hook 10"),
        &["saved: H-01 - moved to rack Left, hook 10"],
    ),
    (
        Run("move --rack Left --room bench"),
        &["saved: Rack Left - moved to bench"],
    ),
    (
        Run("mix make clear L1=2L"),
        &["mix 1 (clear): 2000 mL, 15.50 % solids by volume"],
    ),
    (Key("Esc"), &["the floor", "H-20"]),
];

/// White wood comes in, and the first coat of its life.
const FIRST_COAT: &[Step] = &[
    (
        Scan("Left"),
        &["Rack Left", "What was done?", "next receive"],
    ),
    (
        Key("w"),
        &[
            "Rack Left - receive - 10 pieces - ended",
            "no recipe rule is broken",
        ],
    ),
    (
        Key("Enter"),
        &["saved: Rack Left - receive - 10 pieces - ended"],
    ),
    (Key("Enter"), &["the floor"]),
    (Key("F2"), &["the booth", "clear 1 of 6", "earliest"]),
    (Scan("Left"), &["Rack Left", "What was done?"]),
    (
        Key("c"),
        &["Rack Left - clear coat 1 - 10 pieces - ended", "mix 1"],
    ),
    (
        Key("Enter"),
        &["saved: Rack Left - clear coat 1 - 10 pieces - ended"],
    ),
    (
        Key("Enter"),
        &["clear 2 of 6", "waiting", "coats left today: 2 (cap 3)"],
    ),
];

const LEAVES: &[Step] = &[(Key("q"), &[])];

#[test]
fn from_an_empty_folder_the_questions_lead_to_twenty_pieces_and_a_first_coat() {
    let world = folder();
    let seat = |person| Seat {
        at: None,
        person,
        station: "laptop",
        place: "floor",
    };
    seat(None).plays(&world, QUESTIONS);
    let day = [GOES_ON, FURNISHES, FIRST_COAT, LEAVES].concat();
    let receipts = seat(Some("MK")).plays(&world, &day);
    let said = |n: usize, words: &str| assert!(receipts[n].contains(words), "{receipts:?}");
    said(0, "H-01 - moved to rack Left, hook 10");
    said(2, "Rack Left - receive - 10 pieces");
    said(3, "Rack Left - clear coat 1 - 10 pieces");
    assert_eq!(receipts.len(), 4, "{receipts:?}");

    let verify = sound(&world);
    assert!(verify["actions"].as_i64() >= Some(14), "{verify}");
    let floor = world.now().json("floor");
    let pieces = floor.as_array().unwrap();
    assert_eq!(pieces.len(), 20, "{floor:#}");
    let coated = |n: &serde_json::Value| n["clear_coats"] == 1;
    assert_eq!(pieces.iter().filter(|p| coated(p)).count(), 10, "{floor:#}");
    let piece = world.now().json("piece show H-02");
    assert_eq!(piece["model"], "Concert", "{piece:#}");
    assert_eq!(piece["due"], "2026-06-12", "{piece:#}");
}

/// One coat of the rack on the left, and away.
const COAT_2: &[Step] = &[
    (Look, &["the booth", "clear 2 of 6", "ready"]),
    (Scan("Left"), &["Rack Left", "What was done?"]),
    (Key("c"), &["Rack Left - clear coat 2 - 10 pieces"]),
    (
        Key("Enter"),
        &["saved: Rack Left - clear coat 2 - 10 pieces - ended 09:4"],
    ),
    (
        Key("Enter"),
        &["clear 3 of 6", "coats left today: 1 (cap 3)"],
    ),
    (Key("q"), &[]),
];

const COAT_3: &[Step] = &[
    (Look, &["the booth", "clear 3 of 6", "ready"]),
    (Scan("Left"), &["Rack Left", "What was done?"]),
    (Key("c"), &["Rack Left - clear coat 3 - 10 pieces"]),
    // It ended four minutes ago.
    (Key("4"), &["ended how many minutes ago? 4_"]),
    (
        Key("Enter"),
        &["saved: Rack Left - clear coat 3 - 10 pieces - ended 11:1"],
    ),
    (Key("Enter"), &["the booth", "no piece has a coat next"]),
    (Key("q"), &[]),
];

/// Twelve hours and more are over.
const FIRST_SANDING: &[Step] = &[
    (Look, &["the floor", "Rack Left", "level sand"]),
    (Scan("Left"), &["Rack Left", "next level sand, ready"]),
    (Key("s"), &["Rack Left - level sand - 10 pieces"]),
    (
        Key("Enter"),
        &["saved: Rack Left - level sand - 10 pieces - ended 07:3"],
    ),
    (Key("Enter"), &["the floor", "clear 4"]),
    (Key("q"), &[]),
];

/// The fourth coat goes onto the wrong rack in the log, and is taken back.
const WRONG_RACK: &[Step] = &[
    (Look, &["the booth  laptop TR", "clear 4 of 6"]),
    (Scan("Right"), &["Rack Right", "What was done?"]),
    (
        Key("c"),
        &[
            "against it: 10 of 10 pieces; receive comes first",
            "Rack Right - clear coat 1 - 10 pieces",
        ],
    ),
    (
        Key("Enter"),
        &["saved: Rack Right - clear coat 1 - 10 pieces", "why?"],
    ),
    (
        Key("u"),
        &["take back action", "coat on rack Right at 09:0", "by TR?"],
    ),
    (
        Key("Enter"),
        &["is taken back (10 entries)", "both stay readable"],
    ),
    (Scan("Left"), &["Rack Left", "What was done?"]),
    (Key("c"), &["Rack Left - clear coat 4 - 10 pieces"]),
    (
        Key("Enter"),
        &["saved: Rack Left - clear coat 4 - 10 pieces - ended 09:0"],
    ),
    (Key("Enter"), &["clear 5 of 6"]),
    (Key("q"), &[]),
];

/// Monday: what the logger says of Sunday, the coat that nobody wrote down on Friday, and the window that is over.
const MONDAY: &[Step] = &[
    (
        Run("room readings bench bench.csv"),
        &[
            "readings of bench: 62 taken over, 0 were known",
            "bench: too cold from 10 May 08:00 to 06:00 (22 h): lowest 13.5 C",
            "held against",
        ],
    ),
    (
        Run(
            "coat --rack Left --mix 1 --began '2026-05-08 10:40' --ended '2026-05-08 10:52' --amount 0.48L --reason later",
        ),
        &[
            "saved: Rack Left - clear coat 5 - 10 pieces - ended 10:52",
            "written 2 d 20 h after it was done",
        ],
    ),
    (Key("Esc"), &["the floor", "scuff, then c"]),
    // A look at the night on the page of the air.
    (Key("F6"), &["the air", "bench.csv", "60 %"]),
    (Key("F3"), &["the floor", "Rack Left"]),
    (Scan("Left"), &["next scuff, then clear 6 of 6, ready"]),
    // Not every key is the right one: the page says which one is.
    (Key("w"), &["press c for a coat, s for a sanding"]),
    (Key("s"), &["Rack Left - scuff - 10 pieces"]),
    (
        Key("Enter"),
        &["saved: Rack Left - scuff - 10 pieces - ended 07:3"],
    ),
    (Key("Enter"), &["the floor", "clear 6"]),
    (Key("q"), &[]),
];

const LAST_COAT: &[Step] = &[
    (Look, &["the booth", "clear 6 of 6", "ready"]),
    (Scan("Left"), &["Rack Left", "What was done?"]),
    (
        Key("c"),
        &[
            "Rack Left - clear coat 6 - 10 pieces",
            "no recipe rule is broken",
        ],
    ),
    (
        Key("Enter"),
        &["saved: Rack Left - clear coat 6 - 10 pieces - ended 08:0"],
    ),
    (Key("Enter"), &["the booth", "no piece has a coat next"]),
    (Scan("H-02"), &["card", "H-02  body", "cure"]),
    (Key("Esc"), &["the booth"]),
    (Key("q"), &[]),
];

/// The month is signed from the page of the solvent book, and a copy is made for the stick.
const FIRST_OF_JUNE: &[Step] = &[
    (Run("person pin MK --to 481516"), &["PIN of MK chosen"]),
    (
        Run("month close 2026-05 --pin 481516"),
        // 480 mL of 905 g/L, of it 66 % and 8 %; of the other coats nobody wrote an amount down.
        &[
            "2026-05: VOC 286.7 g, HAP 34.8 g",
            "50 coats are without a known amount",
            "signed by MK",
            "revision 1",
        ],
    ),
    (
        Run("backup stick.ledger"),
        &["stick.ledger: ", "checked after writing, head"],
    ),
    (Key("Esc"), &["the floor"]),
    (Key("q"), &[]),
];

/// The bench room's logger: hourly from Friday evening to Monday morning; the heating was off on Sunday.
fn weekend() -> String {
    let mut file = String::from("time,temperature,humidity\r\n");
    let begin = crate::world::moment("2026-05-08 18:00");
    for hour in 0..62 {
        let at = begin + chrono::TimeDelta::hours(hour);
        let cold = (38..60).contains(&hour);
        let air = if cold { "13.5,58" } else { "21.0,44" };
        file.push_str(&format!("{},{air}\r\n", at.format("%Y-%m-%d %H:%M")));
    }
    file
}

#[test]
fn a_week_with_a_cold_sunday_a_wrong_rack_and_a_forgotten_coat_is_signed_and_restored() {
    let world = folder();
    world.file("bench.csv", &weekend());
    let desk = world.at("2026-05-07T07:30:00+02:00");
    for line in [
        "open --name 'Two benches' --zone Europe/Berlin --demo",
        "material adopt hlc.toml",
        "recipe adopt b4.toml",
        "piece add H-01 --kind body --model Parlour --recipe B4 --area 0.31m2",
        "lot receive L1 HLC 10L",
    ] {
        desk.run(line).good();
    }
    let plays = |at: &str, person: &str, place: &str, steps: &[Step]| {
        let seat = Seat {
            at: Some(at),
            person: Some(person),
            station: "laptop",
            place,
        };
        seat.plays(&world, steps)
    };
    let first = [FURNISHES, FIRST_COAT, LEAVES].concat();
    plays("2026-05-07T08:00:00+02:00", "MK", "floor", &first);
    plays("2026-05-07T09:40:00+02:00", "TR", "booth", COAT_2);
    plays("2026-05-07T11:20:00+02:00", "TR", "booth", COAT_3);
    plays("2026-05-08T07:30:00+02:00", "MK", "floor", FIRST_SANDING);
    plays("2026-05-08T09:00:00+02:00", "TR", "booth", WRONG_RACK);
    plays("2026-05-11T07:30:00+02:00", "MK", "floor", MONDAY);
    plays("2026-05-11T08:00:00+02:00", "TR", "booth", LAST_COAT);
    plays("2026-06-01T08:00:00+02:00", "MK", "floor", FIRST_OF_JUNE);

    // What the record holds of the first piece that hung there.
    let at = world.at("2026-06-01 09:00");
    let piece = at.json("piece show H-02");
    assert_eq!(piece["clear_coats"], 6, "{piece:#}");
    // Six of 14 less a sanding of 10.
    assert_eq!(piece["film"]["value"], 74.0, "{piece:#}");
    let other = at.json("piece show H-11");
    assert_eq!(other["clear_coats"], 0, "{other:#}");
    let open = at.json("deviations");
    assert_eq!(rules(&open), ["written-late"; 10], "{open:#}");
    assert_eq!(texts(&open, "reason"), ["later"; 10], "{open:#}");
    sound(&world);

    // The copy in another folder is the same record.
    let elsewhere = World::empty();
    let stick = world.home().join("stick.ledger");
    elsewhere
        .now()
        .run(&format!("recover '{}'", stick.display()))
        .good();
    let copy = sound(&elsewhere);
    assert_eq!(copy["head"], sound(&world)["head"]);
    assert_eq!(
        elsewhere.at("2026-06-01 09:00").json("month 2026-05"),
        at.json("month 2026-05"),
    );
}
