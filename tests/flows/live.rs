//! What runs on by itself: a watched folder, and readings from a real broker on this host.

use crate::world::{World, holds};
use serde_json::{Value, json};
use std::io::{BufRead as _, BufReader};
use std::net::TcpListener;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

const NOW: &str = "2026-05-05 12:00";

const FILES: &str = r#"[logger]
code = "C-1"
revision = "1"
room = "cure room"
temperature_unit = "C"

[file]
names = "cure-*.csv"
delimiter = "comma"
header = true
time = ["time"]
time_format = "YYYY-MM-DD hh:mm"
zone = "shop"
temperature = "t"
"#;

fn adopt(world: &World, toml: &str) {
    let file = world.file("logger.toml", toml);
    world
        .at("2026-04-20 07:00")
        .run(&format!("logger adopt '{}'", file.display()))
        .good();
}

fn room(world: &World, name: &str) {
    world
        .at("2026-04-20 07:00")
        .run(&format!("room declare '{name}' --every 15m"))
        .good();
}

#[test]
fn a_watched_folder_is_taken_over_file_by_file_and_each_of_them_once() {
    let world = World::new();
    room(&world, "cure room");
    adopt(&world, FILES);
    let folder = world.home().join("from-loggers");
    std::fs::create_dir(&folder).unwrap();
    let write = |name: &str, text: &str| std::fs::write(folder.join(name), text).unwrap();
    write(
        "cure-1.csv",
        "time,t\n2026-05-05 07:00,21.5\n2026-05-05 07:15,21.6\n",
    );
    write(
        "cure-2.csv",
        "time,t\n2026-05-05 07:30,21.7\n2026-05-05 07:45,warm\n",
    );
    write("note.txt", "nothing of a logger\n");
    let look = format!("logger watch '{}' --once --every 1s", folder.display());
    let answer = world.at(NOW).run(&look);
    // The one that does not read is named; it stops no other.
    assert_eq!(answer.code, 2, "{}{}", answer.out, answer.err);
    holds(
        &answer.out,
        &[
            "cure-1.csv of cure room: 2 lines, 2 readings",
            "note.txt: no adopted logger writes files of this name; left",
        ],
    );
    holds(
        &answer.err,
        &[
            "cure-2.csv:3: \"warm\" is not a plain number",
            "nothing was taken in",
        ],
    );
    let newest = |at: &str| world.at(at).json("room list")[0]["temperature_mc"].clone();
    assert_eq!(newest(NOW), 21_600);

    // Mended, it comes in; the other one is known by its bytes, also under another name.
    write(
        "cure-2.csv",
        "time,t\n2026-05-05 07:30,21.7\n2026-05-05 07:45,21.8\n",
    );
    std::fs::rename(folder.join("cure-1.csv"), folder.join("cure-3.csv")).unwrap();
    std::fs::remove_file(folder.join("note.txt")).unwrap();
    let answer = world.at(NOW).run(&look).good();
    holds(
        &answer.out,
        &[
            "cure-2.csv of cure room",
            "cure-3.csv was taken over before",
        ],
    );
    assert_eq!(newest(NOW), 21_800);
    assert_eq!(world.count("SELECT count(*) FROM reading"), 4);
    for (line, wanted) in [
        (
            "logger watch nowhere --once",
            "folder nowhere cannot be read",
        ),
        (
            "logger watch . --once --every 0s",
            "once a second at the most",
        ),
    ] {
        holds(&world.at(NOW).run(line).refused(2), &[wanted]);
    }
    assert_eq!(world.now().run("verify").code, 0);
}

/// A broker of this test, which ends with it.
struct Broker(Child);

impl Broker {
    fn start(home: &Path, port: u16) -> Option<Self> {
        let conf = home.join("broker.conf");
        let text = format!("listener {port} 127.0.0.1\nallow_anonymous true\npersistence false\n");
        std::fs::write(&conf, text).unwrap();
        // Debian keeps it where only root looks by itself.
        let broker = ["mosquitto", "/usr/sbin/mosquitto"]
            .into_iter()
            .find_map(|name| {
                let mut command = Command::new(name);
                command
                    .arg("-c")
                    .arg(&conf)
                    .stdout(Stdio::null())
                    .stderr(Stdio::null());
                command.spawn().ok()
            });
        broker.map(Self)
    }
}

impl Drop for Broker {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// The program while it listens, and what it says, line by line.
struct Listening {
    child: Child,
    said: Receiver<Value>,
}

impl Listening {
    fn start(world: &World, port: u16) -> Self {
        let mut command = world
            .at(NOW)
            .process(&format!("logger listen --port {port}"));
        let mut child = command.stdout(Stdio::piped()).spawn().unwrap();
        let out = BufReader::new(child.stdout.take().unwrap());
        let (tell, said) = channel();
        std::thread::spawn(move || {
            let mut whole = String::new();
            for line in out.lines().map_while(Result::ok) {
                whole.push_str(&line);
                // An answer ends where its brace stands at the margin.
                if line == "}" {
                    let value = serde_json::from_str(&std::mem::take(&mut whole)).unwrap();
                    if tell.send(value).is_err() {
                        return;
                    }
                }
            }
        });
        Self { child, said }
    }

    /// The next answer that holds this text.
    fn waits_for(&self, wanted: &str) -> Value {
        loop {
            let next = self.said.recv_timeout(Duration::from_mins(1));
            let value = next.unwrap_or_else(|e| panic!("{wanted}: {e}"));
            if value.to_string().contains(wanted) {
                return value;
            }
        }
    }
}

impl Drop for Listening {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn publish(port: u16, topic: &str, text: &str) {
    let port = port.to_string();
    let done = Command::new("mosquitto_pub")
        .args([
            "-h",
            "127.0.0.1",
            "-p",
            &port,
            "-q",
            "1",
            "-t",
            topic,
            "-m",
            text,
        ])
        .status();
    assert!(done.unwrap().success());
}

/// A broker at a free port; `None`, said, where the machine has none.
fn broker(world: &World) -> Option<(Broker, u16)> {
    let port = TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap()
        .port();
    let there = Command::new("mosquitto_pub")
        .arg("--help")
        .stdout(Stdio::null())
        .status()
        .is_ok();
    let broker = Broker::start(world.home(), port).filter(|_| there);
    if broker.is_none() {
        eprintln!("mosquitto or mosquitto_pub is missing: no reading came from a broker");
    }
    Some((broker?, port))
}

#[test]
fn what_a_sensor_sends_is_told_in_one_line_where_it_makes_or_ends_an_excursion() {
    let world = World::new();
    let Some((_broker, port)) = broker(&world) else {
        return;
    };
    room(&world, "attic");
    let head = FILES.split("[file]").next().unwrap();
    let attic = head.replace("C-1", "A-1").replace("cure room", "attic");
    adopt(
        &world,
        &format!("{attic}[live]\ntopic = \"rooms/attic\"\ntemperature = \"t\"\ntime = \"at\"\n"),
    );
    world.piece("2026-04-27 07:00", "B-0290", "G9", "--room attic");
    world.bring_to("B-0290", 9, "2026-05-05 08:00", "");
    let listening = Listening::start(&world, port);
    listening.waits_for("answers; listening to rooms/attic");
    let mut told = Vec::new();
    for (time, t) in [
        ("11:15", 21.0),
        ("11:30", 17.5),
        ("11:45", 17.0),
        ("12:00", 21.0),
    ] {
        let text = format!(r#"{{"t":"{t}","at":"2026-05-05T{time}:00-04:00"}}"#);
        publish(port, "rooms/attic", &text);
        listening.waits_for("temperature_mc");
        // What comes next is either its excursion or the answer to a message that is none.
        publish(port, "rooms/attic", "end");
        loop {
            let value = listening.waits_for("attic");
            let Some(text) = value["excursion"].as_str() else {
                assert!(value.to_string().contains("left out"), "{value}");
                break;
            };
            told.push(text.to_owned());
        }
    }
    assert_eq!(
        told,
        [
            "attic: too cold since 11:30 (30 min): lowest 17.5 C, held against 20.0 C (recipe G9 rev 3); no piece was delayed, of 1 there",
            "attic: too cold from 11:30 to 12:00 (30 min): lowest 17.0 C, held against 20.0 C (recipe G9 rev 3); 1 piece delayed, by at most 15 min; 0 lost their day; 0 now miss their date",
        ]
    );
}

#[test]
fn a_file_of_the_watched_folder_is_told_in_one_line_where_it_holds_an_excursion() {
    let world = World::new();
    room(&world, "cure room");
    adopt(&world, FILES);
    world
        .at("2026-04-20 07:10")
        .run("limit enter --room 'cure room' --air 'too warm' --value 25C --source 'house rule'")
        .good();
    let folder = world.home().join("from-loggers");
    std::fs::create_dir(&folder).unwrap();
    let look = format!("logger watch '{}' --once --every 1s", folder.display());
    let said = |name: &str, text: &str| {
        std::fs::write(folder.join(name), format!("time,t\n{text}")).unwrap();
        world.at(NOW).run(&look).good().out
    };
    let made = said(
        "cure-1.csv",
        "2026-05-05 07:00,21.5\n2026-05-05 07:15,26.0\n2026-05-05 07:30,26.5\n",
    );
    holds(
        &made,
        &[
            "too warm from 07:15 to 08:00 (45 min): highest 26.5 C, held against 25.0 C (entered by MK, source: house rule); no piece was delayed, of 0 there",
        ],
    );
    let ended = said(
        "cure-2.csv",
        "2026-05-05 08:00,21.5\n2026-05-05 08:10,21.5\n",
    );
    holds(&ended, &["too warm from 07:15 to 08:00 (45 min)"]);
    let quiet = said("cure-4.csv", "2026-05-05 08:14,21.5\n");
    assert!(!quiet.contains("too warm"), "{quiet}");
    let two = said(
        "cure-3.csv",
        "2026-05-05 08:15,26.0\n2026-05-05 08:30,21.0\n2026-05-05 08:45,27.0\n2026-05-05 09:00,21.0\n",
    );
    holds(
        &two,
        &["cure room: 2 excursions (too warm); no piece was delayed, of 0 there"],
    );
}

#[test]
fn what_a_sensor_sends_to_a_broker_stands_on_the_board_of_another_process() {
    let world = World::new();
    let Some((broker, port)) = broker(&world) else {
        return;
    };
    for name in ["cure room", "attic"] {
        room(&world, name);
    }
    let head = FILES.split("[file]").next().unwrap();
    let head = head.replace("\"C\"\n", "\"C\"\nhumidity_unit = \"%\"\n");
    adopt(
        &world,
        &format!("{head}[live]\ntopic = \"rooms/cure/t\"\nhumidity_topic = \"rooms/cure/rh\"\n"),
    );
    let attic = head.replace("C-1", "A-1").replace("cure room", "attic");
    adopt(
        &world,
        &format!(
            "{attic}[live]\ntopic = \"rooms/attic\"\ntemperature = \"t\"\nhumidity = \"rh\"\ntime = \"at\"\n"
        ),
    );
    world.piece("2026-04-27 07:00", "B-0290", "G9", "--room 'cure room'");
    world.bring_to("B-0290", 9, "2026-05-04 12:00", "");
    let board = || world.at("2026-05-05 12:30").json("floor")[0].clone();
    assert_eq!(board()["ready_at"], Value::Null);

    let listening = Listening::start(&world, port);
    listening.waits_for("answers; listening to rooms/attic, rooms/cure/rh, rooms/cure/t");
    publish(port, "rooms/cure/rh", "48.2");
    publish(port, "rooms/cure/t", "21.4");
    publish(port, "rooms/cure/t", "29.9");
    let kept = listening.waits_for("temperature_mc");
    assert_eq!(
        (
            &kept["room"],
            &kept["temperature_mc"],
            &kept["humidity_cpct"]
        ),
        (&json!("cure room"), &json!(21_400), &json!(4_820))
    );
    // From that reading on the room's forecast counts: the piece has a time now.
    let ready = board()["ready_at"].as_str().unwrap().to_owned();
    assert!(ready.starts_with("2026-05-19T12:0"), "{ready}");

    // The broker goes away and comes again, and so does what it hands on.
    drop(broker);
    listening.waits_for("trying again");
    let broker = Broker::start(world.home(), port).unwrap();
    listening.waits_for("answers");
    publish(
        port,
        "rooms/attic",
        r#"{"t":"19.5","rh":51,"at":"2026-05-05T11:20:00-04:00"}"#,
    );
    let kept = listening.waits_for("temperature_mc");
    assert_eq!(kept["at"], "2026-05-05T11:20:00.000-04:00");
    publish(port, "rooms/attic", "warm");
    let told = listening.waits_for("left out");
    holds(
        told["word"].as_str().unwrap(),
        &["attic: a message was left out", "not an object of fields"],
    );
    drop((listening, broker));
    // One for each interval of the room, and each under its sensor's name.
    assert_eq!(world.count("SELECT count(*) FROM reading"), 2);
    let entries = world.now().run("entries").good().out;
    holds(
        &entries,
        &["1 reading of cure room from broker, C-1 rev 1, rooms/cure/t"],
    );
    assert_eq!(world.now().run("verify").code, 0);
}
