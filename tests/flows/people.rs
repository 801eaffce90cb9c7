//! The people list, PINs, and what asks for them.

use crate::world::{Desk, World, holds, program, split};
use serde_json::json;

const LIMIT: &str =
    "limit enter --booth 'booth 1' --value 100fpm --basis average --source 'plate on the booth'";

// A ledger by the system's clock: waits of PINs are measured by the machine's own time.
fn real() -> World {
    let world = World::empty();
    desk(&world)
        .run("open --name 'Bench and hook' --zone America/New_York")
        .good();
    world
}

fn desk(world: &World) -> Desk<'_> {
    world.now().person("JD")
}

fn new_pin(world: &World, words: &str) -> String {
    let pin = desk(world).json(words)["new_pin"]
        .as_str()
        .unwrap()
        .to_owned();
    assert_eq!(pin.len(), 6, "{pin}");
    pin
}

fn wrong(pin: &str) -> &'static str {
    if pin == "830472" { "830473" } else { "830472" }
}

// On hold by the story's own shop, a demo.
fn held() -> World {
    let world = World::new();
    world.piece("2026-03-03 07:00", "B-0901", "G9", "");
    world
        .at("2026-03-03 08:00")
        .run("hold B-0901 --why 'glue spot'")
        .good();
    world
}

#[test]
fn who_opens_the_ledger_is_its_first_supervisor_and_people_come_change_and_leave() {
    let world = real();
    let list = desk(&world).json("person list");
    assert_eq!(list[0]["initials"], "JD");
    assert_eq!(list[0]["role"], "supervisor");
    desk(&world).run("person add DP finisher").good();
    desk(&world).run("person add SL 'safety lead'").good();
    desk(&world).run("person role DP supervisor").good();
    desk(&world).run("person leave SL").good();
    let list = desk(&world).json("person list");
    let roles: Vec<_> = list
        .as_array()
        .unwrap()
        .iter()
        .map(|p| (p["initials"].clone(), p["role"].clone(), p["left"].clone()))
        .collect();
    assert_eq!(
        roles,
        [
            (json!("DP"), json!("supervisor"), json!(false)),
            (json!("JD"), json!("supervisor"), json!(false)),
            (json!("SL"), json!(null), json!(true)),
        ]
    );
    let told = desk(&world).run("entries").good().out;
    holds(
        &told,
        &["DP is a finisher", "DP is a supervisor", "SL left"],
    );
    assert_eq!(desk(&world).json("verify")["differences"], json!([]));
    desk(&world).run("rebuild").good();
    assert_eq!(desk(&world).json("person list"), list);
}

#[test]
fn the_last_supervisor_cannot_leave_or_become_something_else() {
    let world = real();
    for words in ["person leave JD", "person role JD finisher"] {
        let said = desk(&world).run(words).refused(2);
        holds(&said, &["JD is the last supervisor"]);
    }
    desk(&world).run("person add DP supervisor").good();
    desk(&world).run("person leave JD").good();
}

#[test]
fn a_person_is_added_once_and_a_stranger_has_no_role_to_change() {
    let world = real();
    desk(&world).run("person add DP finisher").good();
    holds(
        &desk(&world).run("person add DP supervisor").refused(2),
        &["DP is in the people list already", "person role"],
    );
    holds(
        &desk(&world).run("person role XX finisher").refused(2),
        &["XX is not in the people list"],
    );
    holds(
        &desk(&world).run("person add XY boss").refused(2),
        &["finisher, supervisor, safety lead"],
    );
}

#[test]
fn until_a_pin_is_set_every_deed_goes_on_and_says_so() {
    let world = held();
    let lifted = world
        .at("2026-03-03 09:00")
        .json("lift B-0901 --why 'scraped off'");
    assert_eq!(lifted["saved"], true);
    assert_eq!(lifted["pin"], "no PIN is set");
    let said = world.at("2026-03-03 09:05").run(LIMIT).good().out;
    holds(&said, &["no PIN is set"]);
}

#[test]
fn once_a_supervisor_has_a_pin_a_hold_is_lifted_with_it_only() {
    let world = held();
    let desk = world.at("2026-03-03 09:00");
    let pin = desk.json("person pin MK --new")["new_pin"]
        .as_str()
        .unwrap()
        .to_owned();
    let lift = "lift B-0901 --why 'scraped off'";
    holds(&desk.run(lift).refused(2), &["asks for the PIN of MK"]);
    let bad = wrong(&pin);
    holds(
        &desk.run(&format!("{lift} --pin {bad}")).refused(2),
        &["that is not the PIN of MK", "nothing was done"],
    );
    // A finisher writes it for the supervisor, who gives the PIN.
    let other = desk.person("DP");
    holds(
        &other.run(&format!("{lift} --pin {pin}")).refused(2),
        &["asks for the PIN of MK, and DP has none"],
    );
    assert_eq!(desk.json("piece show B-0901")["outlook"], "held");
    let saved = other.json(&format!("{lift} --by MK --pin {pin}"));
    assert_eq!(
        (&saved["saved"], &saved["pin"]),
        (&json!(true), &json!("PIN given"))
    );
    let outcomes: Vec<_> = desk
        .json("person tries")
        .as_array()
        .unwrap()
        .iter()
        .map(|t| t["outcome"].clone())
        .collect();
    assert_eq!(outcomes, ["right", "wrong"]);
    // The hold is looked at without any PIN, and so is every other deed.
    desk.run("note B-0901 --why 'still good'").good();
}

#[test]
fn a_deviation_is_answered_with_the_supervisors_pin() {
    let world = World::new();
    world.piece("2026-03-03 07:00", "B-0902", "G9", "");
    let saved = world
        .at("2026-03-03 08:00")
        .json("coat B-0902 --kind clear");
    let entry = saved["deviations"][0]["entry"].clone();
    let rule = saved["deviations"][0]["rule"].as_str().unwrap().to_owned();
    let desk = world.at("2026-03-03 09:00");
    desk.run("person pin MK --to 830472").good();
    let answer = format!("answer {entry} {rule} 'goes on'");
    holds(&desk.run(&answer).refused(2), &["answering a deviation"]);
    desk.run(&format!("{answer} --pin 830472")).good();
    let list = desk.json("deviations --all");
    let one = list
        .as_array()
        .unwrap()
        .iter()
        .find(|d| d["entry"] == entry && d["rule"] == rule.as_str())
        .unwrap();
    assert!(one["answered_by_entry"].is_number(), "{one}");
}

#[test]
fn a_safety_leads_pin_serves_limits_and_leaves_holds_to_supervisors() {
    let world = held();
    let desk = world.at("2026-03-03 09:00");
    desk.run("person add SL 'safety lead'").good();
    desk.run("person pin SL --to 604815").good();
    // No supervisor has a PIN: lifting asks for none, so that the shop is not kept from its own pieces.
    let saved = desk.json("lift B-0901 --why 'scraped off'");
    assert_eq!(saved["pin"], "no PIN is set");
    desk.run(LIMIT).refused(2);
    desk.person("SL")
        .run(&format!("{LIMIT} --pin 604815"))
        .good();
}

#[test]
fn common_pins_are_refused_and_a_pin_is_changed_with_the_old_one() {
    let world = real();
    for bad in ["123456", "777777", "19840512", "12ab56"] {
        desk(&world)
            .run(&format!("person pin JD --to {bad}"))
            .refused(2);
    }
    desk(&world).run("person pin JD --to 830472").good();
    desk(&world).run("person pin JD --to 604815").refused(2);
    desk(&world)
        .run("person pin JD --to 604815 --pin 830472")
        .good();
    desk(&world)
        .run(&format!("{LIMIT} --pin 830472"))
        .refused(2);
    desk(&world).run(&format!("{LIMIT} --pin 604815")).good();
    // A supervisor gives a finisher a PIN, and the finisher changes it with that one.
    desk(&world)
        .run("person add DP finisher --pin 604815")
        .good();
    let pin = new_pin(&world, "person pin DP --new --pin 604815");
    desk(&world)
        .person("DP")
        .run(&format!("person pin DP --to 918273 --pin {pin}"))
        .good();
}

#[test]
fn five_wrong_tries_then_a_wait_that_no_restart_clock_or_other_terminal_ends() {
    let world = real();
    let pin = new_pin(&world, "person pin JD --new");
    let (good, bad) = (
        format!("{LIMIT} --pin {pin}"),
        format!("{LIMIT} --pin {}", wrong(&pin)),
    );
    for n in 1..=5 {
        let said = desk(&world).run(&bad).refused(2);
        holds(&said, &[if n < 5 { "try again" } else { "waits 30 s" }]);
    }
    // Each command is a new start of the program; the right PIN waits, too.
    holds(
        &desk(&world).run(&good).refused(2),
        &["too many wrong PINs; wait"],
    );
    holds(
        &desk(&world).station("booth-2").run(&good).refused(2),
        &["too many wrong PINs"],
    );
    // The terminal waits for other people, too.
    assert_eq!(
        world.count("SELECT wrong FROM pin_wait WHERE scope = 'station' AND name = 'desk'"),
        5
    );
    // The machine was started anew a moment ago: only its time since then counts. Here it has been on for long, so the
    // wait that was noted is made longer than that.
    world.change(
        "UPDATE pin_wait SET boot = 'another start', boot_ms = 0, left_ms = 9000000000000000",
    );
    holds(
        &desk(&world).run(&good).refused(2),
        &["too many wrong PINs"],
    );
    // The wall clock does not count at all.
    world.change("UPDATE pin_wait SET at = 0");
    holds(
        &desk(&world).run(&good).refused(2),
        &["too many wrong PINs"],
    );
    world.change("UPDATE pin_wait SET boot_ms = 0, left_ms = 1");
    desk(&world).run(&good).good();
    assert_eq!(world.count("SELECT count(*) FROM pin_wait"), 0);
    let tries = desk(&world).json("person tries");
    let of = |outcome: &str| {
        tries
            .as_array()
            .unwrap()
            .iter()
            .filter(|t| t["outcome"] == outcome)
            .count()
    };
    assert_eq!((of("wrong"), of("too soon"), of("right")), (5, 4, 1));
}

#[test]
fn a_pin_is_in_no_record_and_its_hash_in_no_backup() {
    let world = real();
    let pin = new_pin(&world, "person pin JD --new");
    let hash: String = world.text("SELECT hash FROM pin");
    assert!(
        hash.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"),
        "{hash}"
    );
    let told = desk(&world).run("entries --json").good().out;
    holds(&told, &["new PIN of JD chosen"]);
    assert!(!told.contains(&pin) && !told.contains("argon2"), "{told}");
    let copy = world.home().join("copy.ledger");
    desk(&world)
        .run(&format!("backup '{}'", copy.display()))
        .good();
    let bytes = std::fs::read(&copy).unwrap();
    let tail = hash.rsplit('$').next().unwrap().as_bytes();
    assert!(!bytes.windows(tail.len()).any(|w| w == tail));
}

#[test]
fn the_owner_of_the_file_resets_a_pin_and_the_record_says_so() {
    let world = real();
    desk(&world).run("person pin JD --to 830472").good();
    for _ in 0..6 {
        desk(&world)
            .run(&format!("{LIMIT} --pin 604815"))
            .refused(2);
    }
    desk(&world)
        .person("DP")
        .run("person pin JD --reset")
        .good();
    holds(
        &desk(&world).run("entries").good().out,
        &["PIN of JD taken away by the owner"],
    );
    let saved = desk(&world).json(LIMIT);
    assert_eq!(saved["pin"], "no PIN is set");
    holds(
        &desk(&world).run("person pin JD --reset").refused(2),
        &["JD has no PIN"],
    );
}

#[cfg(unix)]
#[test]
#[allow(clippy::print_stderr, reason = "says that it was left out")]
fn somebody_who_may_only_write_the_file_cannot_reset_a_pin() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};
    use std::os::unix::process::CommandExt;
    let world = real();
    desk(&world).run("person pin JD --to 830472").good();
    let folder = world.ledger().parent().unwrap().to_owned();
    if std::fs::metadata(&folder).unwrap().uid() != 0 {
        eprintln!("left out: only root can run a command as somebody else");
        return;
    }
    // Another user of the machine, who may write the folder and the file by their group.
    let them = 65_534;
    let mut up = folder.clone();
    while up.starts_with(world.home()) {
        chown(&up, None, Some(them)).unwrap();
        std::fs::set_permissions(&up, std::fs::Permissions::from_mode(0o2770)).unwrap();
        up.pop();
    }
    for file in std::fs::read_dir(&folder).unwrap() {
        let file = file.unwrap().path();
        chown(&file, None, Some(them)).unwrap();
        std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o660)).unwrap();
    }
    let program = world.home().join("hangtime");
    std::fs::copy(env!("CARGO_BIN_EXE_hangtime"), &program).unwrap();
    std::fs::set_permissions(&program, std::fs::Permissions::from_mode(0o755)).unwrap();
    let output = std::process::Command::new(&program)
        .env_clear()
        .env("HOME", world.home())
        .current_dir(world.home())
        .args(split("person pin JD --reset --as DP"))
        .uid(them)
        .gid(them)
        .output()
        .unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(3), "{said}");
    holds(&said, &["only the owner of", "can reset a PIN"]);
    assert_eq!(world.count("SELECT count(*) FROM pin"), 1);
}

#[test]
fn initials_outside_the_people_list_are_recorded_and_marked() {
    let world = World::new();
    world.piece("2026-03-03 07:00", "B-0903", "G9", "");
    // A shop that keeps no list is told nothing.
    let plain = world.at("2026-03-03 07:30").person("XX");
    assert_eq!(
        plain.json("done receive B-0903").get("not_in_people_list"),
        None
    );
    world
        .at("2026-03-03 07:40")
        .run("person add DP finisher")
        .good();
    let saved = world
        .at("2026-03-03 08:00")
        .person("XX")
        .json("done mask B-0903");
    assert_eq!(saved["saved"], true);
    assert_eq!(saved["not_in_people_list"], json!(["XX"]));
    let entries = world.now().run("entries B-0903").good().out;
    let masked = entries.lines().find(|l| l.contains("mask")).unwrap();
    holds(masked, &["XX", "[not in the people list]"]);
    let list = world.now().json("entries B-0903");
    assert_eq!(list[0]["in_people_list"], true);
}

#[cfg(unix)]
#[test]
fn files_of_a_ledger_are_for_owner_and_group_only_whatever_the_umask_is() {
    use std::os::unix::fs::PermissionsExt;
    let world = World::empty();
    let shell = |line: &str| {
        let status = std::process::Command::new("sh")
            .env_clear()
            .env("HOME", world.home())
            .env("HANGTIME_INITIALS", "JD")
            .current_dir(world.home())
            .args([
                "-c",
                &format!("umask 0; exec {} {line}", env!("CARGO_BIN_EXE_hangtime")),
            ])
            .status()
            .unwrap();
        assert!(status.success(), "{line}");
    };
    shell("open --name Shop --zone Europe/Berlin");
    // Somebody else has it open, so that the files beside it stay there to be looked at.
    let other = rusqlite::Connection::open(world.ledger()).unwrap();
    let _: i64 = other
        .query_row("SELECT count(*) FROM action", [], |r| r.get(0))
        .unwrap();
    shell("person add DP finisher");
    shell("backup copy.ledger");
    let mut seen = Vec::new();
    let folder = world.ledger().parent().unwrap().to_owned();
    for file in std::fs::read_dir(&folder)
        .unwrap()
        .map(|f| f.unwrap().path())
        .chain([folder.clone(), world.home().join("copy.ledger")])
    {
        let mode = std::fs::metadata(&file).unwrap().permissions().mode();
        assert_eq!(mode & 0o007, 0, "{}: {mode:o}", file.display());
        seen.push(file.file_name().unwrap().to_str().unwrap().to_owned());
    }
    for name in [
        "shop.ledger",
        "shop.ledger-wal",
        "shop.ledger-shm",
        "shop.ledger.turn",
    ] {
        assert!(seen.iter().any(|s| s == name), "{name} is not in {seen:?}");
    }
}

#[test]
fn a_pin_may_come_from_the_environment() {
    let world = real();
    desk(&world).run("person pin JD --to 830472").good();
    let output = program(world.home())
        .env("HANGTIME_PIN", "830472")
        .args(split(LIMIT))
        .args(["--as", "JD"])
        .output()
        .unwrap();
    assert!(output.status.success(), "{output:?}");
    let help = program(world.home())
        .env("HANGTIME_PIN", "830472")
        .args(["limit", "enter", "--help"])
        .output()
        .unwrap();
    assert!(!String::from_utf8(help.stdout).unwrap().contains("830472"));
}

#[test]
fn a_swap_and_a_months_closing_ask_for_a_pin_once_one_is_set() {
    let world = World::new();
    world.piece("2026-03-03 07:00", "B-0911", "G9", "--pair N-0911");
    world.piece("2026-03-03 07:00", "N-0911", "N8", "--pair B-0911");
    world.piece("2026-03-03 07:00", "N-0912", "N8", "");
    let desk = world.at("2026-04-02 09:00");
    let pin = desk.json("person pin MK --new")["new_pin"]
        .as_str()
        .unwrap()
        .to_owned();
    let swap = "pair B-0911 N-0912 --why 'as built'";
    // Looking asks for nothing.
    desk.run(&format!("{swap} --preview")).good();
    holds(&desk.run(swap).refused(2), &["asks for the PIN of MK"]);
    assert_eq!(desk.json("piece show B-0911")["pair"], "N-0911");
    desk.run(&format!("{swap} --pin {pin}")).good();
    assert_eq!(desk.json("piece show B-0911")["pair"], "N-0912");
    let close = "month close 2026-03";
    holds(&desk.run(close).refused(2), &["asks for the PIN of MK"]);
    desk.run(&format!("{close} --pin {pin}")).good();
}

#[test]
fn words_of_fixed_lists_are_taken_in_any_case_and_initials_with_points_are_answered() {
    let world = World::new();
    let desk = || world.at("2026-03-07 08:00");
    desk().run("person add JK Finisher").good();
    desk().run("person add SL 'Safety Lead'").good();
    let people = desk().run("person list").good().out;
    holds(&people, &["JK", "finisher", "SL", "safety lead"]);
    desk().run("month 2026-03 --by Booth").good();
    desk()
        .run("limit enter --of VOC --value 180kg --period Twelve --source plate")
        .good();
    holds(
        &desk().run("limit list").good().out,
        &["VOC of twelve months"],
    );
    desk().run("floor --units US").good();
    holds(
        &desk().run("month 2026-03 --by colour").refused(2),
        &["possible values"],
    );
    holds(
        &desk().run("person add J.K. finisher").refused(2),
        &["\"J.K.\" is not taken; write one to eight letters or digits, such as JK"],
    );
}
