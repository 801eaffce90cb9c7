//! A power cut: blank forms that the room goes on with, and keying them in when the power is back.

use super::world::{World, holds, program};
use serde_json::Value;

fn shop() -> World {
    let world = World::new();
    world.rack("2026-03-03 07:00", "R12", 201, 3);
    world.bring_to(
        "--rack R12",
        2,
        "2026-03-06 10:00",
        "--mix 1 --amount 144mL",
    );
    world
        .at("2026-03-06 10:05")
        .run("hold B-0203 --why '<dent> by the heel'")
        .good();
    world
}

#[test]
fn the_forms_have_a_number_on_every_line_and_say_what_was_next_on_each_hook_and_when() {
    let world = shop();
    let desk = world.at("2026-03-06 10:30");
    let made = desk.json("forms forms.html --rack R12");
    assert_eq!(made["form"], "F260306-1030");
    assert_eq!(made["sheets"], 5);
    let page = std::fs::read_to_string(world.home().join("forms.html")).unwrap();
    for title in [
        "Booth log",
        "Mix sheet",
        "Booth check",
        "Defect slip",
        "Rack R12",
    ] {
        holds(&page, &[&format!("<h1>DEMO {title}</h1>")]);
    }
    let last = made["lines"].as_u64().unwrap();
    for line in 1..=last {
        let cell = format!("<td class=\"n\">{line}</td>");
        assert_eq!(page.matches(&cell).count(), 1, "line {line}");
    }
    assert_eq!(
        u64::try_from(page.matches("<td class=\"n\">").count()).unwrap(),
        last
    );
    assert_eq!(page.matches("Form <b>F260306-1030</b>").count(), 5);
    // The next coat waits until 11:30, 90 min after the last; a held piece has no moment, and its text is no mark-up.
    holds(
        &page,
        &[
            "as of ",
            "clear 3 of 9",
            "11:30",
            "&lt;dent&gt;",
            "check by hand",
        ],
    );
    assert!(!page.contains("<dent>"));
    let held = page.lines().find(|l| l.contains("B-0203")).unwrap();
    assert!(!held.contains("11:30"), "{held}");
    // It needs nothing besides itself.
    for outside in ["http", "src=", "<link", "<script", "url("] {
        assert!(!page.contains(outside), "{outside}");
    }
    holds(
        &desk.run("forms forms.html").refused(2),
        &["exists already"],
    );
    holds(
        &desk.run("forms forms.txt").refused(2),
        &["does not end in .html"],
    );
    holds(
        &desk.run("forms other.html --rack R99").refused(2),
        &["rack \"R99\" has no pieces"],
    );
    assert_eq!(desk.json("forms blank.html")["sheets"], 4);
    assert_eq!(desk.json("forms floor.html --floor")["sheets"], 5);
}

const HEAD: &str = "line,form,deed,rack,pieces,skip,mix,amount,date,began,ended,by,name,parts,booth,gauge,defect,place,note,step";

// What stood on the paper of Friday: a check, a cup, a coat out of it, a run; and the sanding of Saturday morning.
const PAPER: &str = "\
1,F260306-1030,coat,R12,,B-0203,line 16,98mL,2026-03-06,11:40,11:52,DP,,,,,,,by torch,
2,F260306-1030,sanding,R12,,B-0203,,,2026-03-07,06:20,07:05,AS,,,,,,,,level-sand
16,F260306-1030,mix,,,,,,2026-03-06,,11:20,DP,M1,L-221=0.60L T-9=0.20L,,,,,,
31,F260306-1030,booth check,,,,,,2026-03-06,,11:30,JB,,,booth 1,0.44inwc,,,fan runs,
46,F260306-1030,defect,,B-0201,,,,2026-03-06,,12:30,DP,,,,,run,lower bout,,
";

fn paper(world: &World, rows: &str) -> String {
    let file = world.file("paper.csv", &format!("{HEAD}\n{rows}"));
    file.display().to_string()
}

fn actions(world: &World) -> i64 {
    world.count("SELECT max(seq) FROM action")
}

#[test]
fn a_form_is_keyed_in_as_late_entries_of_its_people_and_a_second_time_adds_nothing() {
    let world = shop();
    let before = actions(&world);
    let file = paper(&world, PAPER);
    let desk = world.at("2026-03-08 15:00");
    let seen = desk.json(&format!("key-in '{file}' --preview"));
    assert_eq!((&seen["saved"], &seen["new"]), (&false.into(), &5.into()));
    assert_eq!(actions(&world), before);
    let done = desk.json(&format!("key-in '{file}'"));
    assert_eq!((&done["new"], &done["again"]), (&5.into(), &0.into()));
    assert_eq!(actions(&world), before + 5);
    // In the order in which it happened: the cup, the check, the coat, the run, the sanding.
    let lines: Vec<u64> = done["lines"]
        .as_array()
        .unwrap()
        .iter()
        .map(|l| l["line"].as_u64().unwrap())
        .collect();
    assert_eq!(lines, [16, 31, 1, 46, 2]);
    holds(
        done["lines"][2]["says"].as_str().unwrap(),
        &["Rack R12", "clear coat 3", "2 pieces", "mix 2"],
    );
    assert_eq!(world.clears("2026-03-07 09:00", "B-0201"), 3);
    assert_eq!(world.clears("2026-03-07 09:00", "B-0203"), 2);
    // Who did it is the one on the line, who wrote it keyed it in, and it happened when the paper says.
    let row = "SELECT person || ' ' || writer || ' ' || body FROM action WHERE deed = 'coat' ORDER BY seq DESC LIMIT 1";
    holds(
        &world.text(row),
        &[
            "DP MK",
            "\"reason\":\"equipment\"",
            "power cut, form F260306-1030 line 1: by torch",
        ],
    );
    let found = desk.json("deviations");
    let late: Vec<&Value> = found
        .as_array()
        .unwrap_or_else(|| found["facts"].as_array().unwrap())
        .iter()
        .filter(|d| d["rule"] == "written-late")
        .collect();
    assert!(!late.is_empty(), "{found}");
    assert!(late.iter().all(|d| d["reason"] == "equipment"), "{found}");
    assert_eq!(
        world.text("SELECT date(day * 86400, 'unixepoch') FROM used ORDER BY entry DESC LIMIT 1"),
        "2026-03-06"
    );
    assert_eq!(
        world.count("SELECT count(*) FROM exhaust WHERE stopped = 0"),
        1
    );
    let again = desk.json(&format!("key-in '{file}'"));
    assert_eq!((&again["new"], &again["again"]), (&0.into(), &5.into()));
    assert_eq!(actions(&world), before + 5);
    // The same number with another amount is no second coat, and no silence either.
    let file = paper(&world, &PAPER.replace("98mL", "198mL"));
    let said = desk.run(&format!("key-in '{file}'")).refused(2);
    holds(&said, &["paper.csv:2:", "keyed in before", "amount=98mL"]);
    assert_eq!(actions(&world), before + 5);
    holds(&desk.run("verify").good().out, &["no difference"]);
}

#[test]
fn a_list_with_one_bad_line_saves_nothing_and_each_fault_names_line_column_and_a_way_out() {
    let world = shop();
    let before = actions(&world);
    let desk = world.at("2026-03-07 09:00");
    for (was, is, wanted) in [
        ("98mL", "98xx", "column amount: "),
        ("98mL", "900000L", "column amount: "),
        ("2026-03-06,11:40", ",11:40", "column date"),
        ("11:52,DP", "11:52,", "column by is empty"),
        ("line 16,98mL", "line 17,98mL", "column mix: line 17"),
        (
            "line 16,98mL",
            "soup,98mL",
            "column mix: \"soup\" is no mix",
        ),
        (",B-0203,line", ",,line", "B-0203: on hold"),
        ("F260306-1030,coat", "F260306-1030,varnish", "column deed"),
        (
            "1,F260306-1030,coat,R12,",
            "1,F260306-1030,coat,R12,B-0201",
            "column rack",
        ),
        ("by torch,", "by torch,level-sand", "column step"),
        (",,,,,,by torch", ",,booth 1,,,,by torch", "column booth"),
        ("2026-03-06,11:40", "2026-03-08,11:40", "in the future"),
    ] {
        assert!(PAPER.contains(was), "{was}");
        let file = paper(&world, &PAPER.replacen(was, is, 1));
        let said = desk.run(&format!("key-in '{file}'")).refused(2);
        holds(&said, &["nothing was taken in", "paper.csv:2: ", wanted]);
        assert_eq!(actions(&world), before, "{is}");
    }
    let file = world.file("bad.csv", "form,line,deed,colour\n");
    let said = desk.run(&format!("key-in '{}'", file.display())).refused(2);
    holds(
        &said,
        &["column \"colour\" is not known", "column \"by\" is missing"],
    );
}

#[test]
fn lines_are_keyed_in_one_by_one_in_any_order_of_columns_and_a_bad_one_leaves_the_others() {
    let world = World::new();
    world.rack("2026-03-03 07:00", "R12", 201, 3);
    world.bring_to(
        "--rack R12",
        1,
        "2026-03-06 08:00",
        "--mix 1 --amount 144mL",
    );
    let before = actions(&world);
    // Two coats of one cup on one rack, keyed in within a moment: they are two, as they were on paper.
    let typed = "by,ended,date,amount,mix,rack,deed,line,form\n\
                 DP,09:40,2026-03-06,144mL,1,R12,coat,1,F1\n\
                 DP,10:20,2026-03-06,144mL,1,R77,coat,2,F1\n\
                 DP,11:20,2026-03-06,144mL,1,R12,coat,3,F1\n";
    let mut words: Vec<&str> = "key-in --at 2026-03-07T09:00:00-05:00 --as MK --station desk"
        .split(' ')
        .collect();
    let output = program(world.home())
        .args(&words)
        .write_stdin(typed)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    let (out, err) = (
        String::from_utf8(output.stdout).unwrap(),
        String::from_utf8(output.stderr).unwrap(),
    );
    holds(
        &out,
        &[
            "form F1 line 1: saved: Rack R12 - clear coat 2",
            "line 3: saved",
        ],
    );
    holds(&err, &["standard input:3: ", "rack \"R77\" has no pieces"]);
    assert_eq!(actions(&world), before + 2);
    assert_eq!(world.clears("2026-03-07 09:00", "B-0201"), 3);
    words.push("--preview");
    let output = program(world.home())
        .args(&words)
        .write_stdin("")
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    holds(
        &String::from_utf8(output.stderr).unwrap(),
        &["standard input is empty", "form, line, deed"],
    );
}
