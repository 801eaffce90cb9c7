//! What leaves the house for a person who audits: workbook, CSV, JSON, page and the folder of an inspection.

use crate::formulas::Book;
use crate::world::{World, holds, run, split};
use crate::{files, lived_in};
use hangtime::ledger::{Ledger, sha256_hex};
use hangtime::reports::papers::{Papers, Period, papers, workbook};
use hangtime::reports::tags::Paper;
use hangtime::units::Moment;
use serde_json::Value;
use std::path::Path;

// Names that a spreadsheet could take for a formula, for a pattern or for a comparison.
const LOTS: [&str; 4] = ["=1+1", ">7", "L*", "@SUM(A1)"];

// A month with such names, a material whose uses end on half a milligram, and limits.
fn audited() -> World {
    let world = lived_in();
    let desk = world.at("2026-03-06 13:00");
    let ties = world.file(
        "tie.toml",
        "[material]\ncode = \"TIE\"\nname = \"=HYPERLINK(1)\"\nkind = \"lacquer\"\nsheet = \"=rev 1\"\n\
         sheet_date = 2026-01-02\ndensity = \"1.0 kg/L\"\nweight_solids = \"50 %\"\nvolume_solids = \"40 %\"\n\
         drying = \"solvent release\"\nhazards = [\"flammable liquid\"]\ncautions = [\"Flammable.\"]\n\
         [[contains]]\ncas = \"67-64-1\"\nname = \"acetone\"\nshare = \"50 %\"\nexempt = true\ndensity = \"0.790 kg/L\"\n",
    );
    desk.run(&format!("material adopt '{}'", ties.display()))
        .good();
    for lot in LOTS {
        desk.run(&format!("lot receive '{lot}' TIE 5L")).good();
    }
    for (n, lot) in LOTS.iter().enumerate() {
        for (minute, amount) in [(0, "48.001mL"), (5, "48.003mL"), (10, "48.001mL")] {
            let at = format!("2026-03-06 1{}:{:02}", 4 + n, 30 + minute);
            world
                .at(&at)
                .run(&format!(
                    "coat B-0202 --lot '{lot}' --amount {amount} --another --include all --reason other"
                ))
                .good();
        }
    }
    for limit in [
        "--of VOC --value 20kg",
        "--of HAP --value 1g",
        "--of VOC --value 180kg --period twelve",
    ] {
        desk.run(&format!(
            "limit enter {limit} --source '=cell(A1) of the permit'"
        ))
        .good();
    }
    world
}

fn workbook_of(world: &World, words: &str) -> Book {
    let file = world.home().join("out.xlsx");
    let _ = std::fs::remove_file(&file);
    let said = world.now().run(&format!("{words} --workbook out.xlsx"));
    assert!(said.code < 2, "{}", said.err);
    Book::read(std::fs::read(file).unwrap())
}

// Every formula gives the value that stands with it; how many there are.
fn holds_itself(book: &Book) -> usize {
    for (at, formula) in &book.formulas {
        let kept = book.numbers[at];
        let made = book.worked_out(at);
        assert_eq!(
            made.to_bits(),
            kept.to_bits(),
            "{at:?}: {formula}: {made} is not {kept}"
        );
    }
    book.formulas.len()
}

fn table<'v>(value: &'v Value, name: &str) -> &'v Vec<Value> {
    value["tables"][name].as_array().unwrap()
}

#[allow(
    clippy::cast_precision_loss,
    clippy::as_conversions,
    reason = "figures below 2^53"
)]
fn number(value: &Value) -> f64 {
    value.as_i64().unwrap() as f64
}

#[test]
fn every_formula_of_a_workbook_gives_the_ledgers_figure() {
    let world = audited();
    let book = workbook_of(&world, "month 2026-03");
    assert!(holds_itself(&book) > 400);
    let log = world.now().json("month 2026-03 --from-log");
    let at = |sheet: &str, first: &str, row: u32, col| {
        let at = (sheet.to_owned(), book.headings(sheet, first) + 1 + row, col);
        assert!(book.formulas.contains_key(&at), "{at:?} is no formula");
        book.worked_out(&at)
    };
    for (row, total) in (0..).zip(["voc_mg", "hap_mg"]) {
        let summary = at("Summary", "Period", row, 3);
        assert_eq!(summary.to_bits(), number(&log["totals"][total]).to_bits());
    }
    for (row, material) in (0..).zip(log["materials"].as_array().unwrap()) {
        let volume = at("By material", "Material no.", row, 2);
        assert_eq!(volume.to_bits(), number(&material["volume_ul"]).to_bits());
        for (col, total) in (3..).zip(["voc_mg", "hap_mg", "exempt_mg"]) {
            let mass = at("By material", "Material no.", row, col);
            let kept = number(&material["totals"][total]);
            assert_eq!(mass.to_bits(), kept.to_bits(), "{material}");
        }
    }
    // Half a milligram goes to the even neighbour: two of 24000.5 and one of 24001.5 from each lot.
    let ties = log["materials"].as_array().unwrap();
    let ties = ties.iter().find(|m| m["material"] == "TIE").unwrap();
    assert_eq!(ties["totals"]["exempt_mg"], 4 * (2 * 24_000 + 24_002));

    let year = workbook_of(&world, "year 2026");
    assert!(holds_itself(&year) > 400);
    // A month in which nothing was used has its formulas, too.
    let empty = workbook_of(&world, "month 2026-02");
    assert!(holds_itself(&empty) > 5);
}

#[test]
fn names_from_outside_are_text_and_stand_in_no_formula() {
    let world = audited();
    // Somebody wrote into the database by another way than the program.
    world.change("UPDATE ceiling SET source = char(27) || '[2J' || char(8238) || '<b>=1+1'");
    let book = workbook_of(&world, "month 2026-03");
    for lot in LOTS {
        assert!(book.texts.values().any(|t| t == lot), "{lot}");
        assert!(book.formulas.values().all(|f| !f.contains(lot)), "{lot}");
    }
    let steers = |t: &String| t.chars().any(hangtime::shop::text::unruly);
    assert!(!book.texts.values().any(steers));
    assert!(book.texts.values().any(|t| t.contains("[2J")));
    holds_itself(&book);

    world
        .now()
        .run("month 2026-03 --csv tables --page page.html");
    for name in files(&world.home().join("tables")) {
        let text = std::fs::read(world.home().join("tables").join(&name)).unwrap();
        for row in csv::Reader::from_reader(text.as_slice()).records() {
            for cell in &row.unwrap() {
                let figure = cell.parse::<f64>().is_ok();
                assert!(
                    figure || !cell.starts_with(['=', '+', '-', '@']),
                    "{name}: {cell}"
                );
                assert!(
                    !cell.chars().any(hangtime::shop::text::unruly),
                    "{name}: {cell}"
                );
            }
        }
    }
    let page = std::fs::read_to_string(world.home().join("page.html")).unwrap();
    assert!(
        !page
            .chars()
            .any(|c| c != '\n' && hangtime::shop::text::unruly(c))
    );
    for strange in ["<script", "src=", "href=", "url(", "http"] {
        assert!(!page.contains(strange), "{strange}");
    }
    assert!(!page.contains("<b>") && page.contains("&lt;b&gt;=1+1"));
}

#[test]
fn csv_and_json_say_what_the_ledger_says() {
    let world = audited();
    let said = world.now().run("month 2026-03 --csv tables --json");
    let json: Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(json["demo"], true);
    let log = world.now().json("month 2026-03 --from-log");
    assert_eq!(
        table(&json, "by-substance").len(),
        log["substances"].as_array().unwrap().len()
    );
    for s in log["substances"].as_array().unwrap() {
        let row = table(&json, "by-substance")
            .iter()
            .find(|r| r["material"] == s["material"] && r["cas"] == s["cas"])
            .unwrap();
        assert_eq!(row["mass_mg"], s["mass_mg"]);
        assert_eq!(row["share_ppm"], s["share_ppm"]);
        assert_eq!(row["sheet"], s["sheet"]);
    }
    // Every use of the month, each with its entry.
    let uses = table(&json, "uses");
    let volume: i64 = uses.iter().map(|u| u["volume_ul"].as_i64().unwrap()).sum();
    let kept: i64 = log["materials"]
        .as_array()
        .unwrap()
        .iter()
        .map(|m| m["volume_ul"].as_i64().unwrap())
        .sum();
    assert_eq!(volume, kept);
    for used in uses.iter().take(5) {
        let action = used["action"].as_i64().unwrap();
        let entry = world.now().json(&format!("action {action}"));
        assert!(entry.to_string().contains(&used["entry"].to_string()));
    }
    let folder = world.home().join("tables");
    for (name, rows) in json["tables"].as_object().unwrap() {
        let text = std::fs::read(folder.join(format!("{name}.csv"))).unwrap();
        let mut read = csv::Reader::from_reader(text.as_slice());
        let heads = read.headers().unwrap().clone();
        let lines: Vec<csv::StringRecord> = read.records().map(Result::unwrap).collect();
        assert_eq!(lines.len(), rows.as_array().unwrap().len(), "{name}");
        for (line, row) in lines.iter().zip(rows.as_array().unwrap()) {
            for (head, cell) in heads.iter().zip(line) {
                let wanted = match &row[head] {
                    Value::Null => String::new(),
                    Value::String(text) => hangtime::shop::text::cell(text),
                    Value::Number(n) if n.is_f64() => format!("{:.6}", n.as_f64().unwrap()),
                    other => other.to_string(),
                };
                assert_eq!(cell, wanted, "{name}: {head}");
            }
        }
    }
    holds(
        &world.now().run("month 2026-03 --csv tables").refused(2),
        &["tables exists already"],
    );
}

#[test]
fn the_page_holds_every_total_its_source_and_who_decides() {
    let world = audited();
    world.now().run("month 2026-03 --page page.html");
    let page = std::fs::read_to_string(world.home().join("page.html")).unwrap();
    let log = world.now().json("month 2026-03 --from-log");
    let grams = |mg: &Value| {
        let mg = mg.as_i64().unwrap();
        format!("{}.{:03} g", mg / 1_000, mg % 1_000)
    };
    let mut figures: Vec<String> = ["voc_mg", "hap_mg", "exempt_mg"]
        .iter()
        .map(|t| grams(&log["totals"][t]))
        .collect();
    for m in log["materials"].as_array().unwrap() {
        figures.extend(
            ["voc_mg", "hap_mg", "exempt_mg"]
                .iter()
                .map(|t| grams(&m["totals"][t])),
        );
    }
    figures.extend(
        log["substances"]
            .as_array()
            .unwrap()
            .iter()
            .map(|s| grams(&s["mass_mg"])),
    );
    for figure in figures {
        assert!(page.contains(&figure), "{figure}");
    }
    holds(
        &page,
        &[
            "DEMO",
            "mass used, from the log, by production day",
            "=cell(A1) of the permit; MK, 6 Mar 2026",
            "over: ",
            "what was used is unknown",
            "Local fire code, the safety data sheet and licensed professionals decide. This log does not.",
            "head: action ",
        ],
    );
    let head = world.now().json("verify");
    assert!(page.contains(head["head"].as_str().unwrap()));
    holds(
        &world.now().run("month 2026-03 --page page.html").refused(2),
        &["exists already"],
    );
    holds(
        &world.now().run("month 2026-03 --page page.txt").refused(2),
        &["page.txt", ".html"],
    );
    holds(
        &world
            .now()
            .run("month 2026-03 --book --workbook w.xlsx")
            .refused(2),
        &["--book"],
    );
    holds(
        &world.now().run("year 2027").refused(2),
        &["2027 has not begun"],
    );
    holds(
        &world.now().run("year 26").refused(2),
        &["year \"26\"", "2026"],
    );
}

fn made(world: &World, most: usize) -> Papers {
    let ledger = Ledger::open(&world.ledger()).unwrap();
    let at = Moment(1_772_900_000_000); // Sat 7 Mar 2026
    papers(
        &ledger,
        &Period::Month("2026-03".to_owned()),
        (at, at),
        most,
    )
    .unwrap()
}

#[test]
fn too_many_uses_are_put_together_and_give_the_same_totals() {
    let world = audited();
    let (each, few) = (made(&world, 10_000), made(&world, 10));
    let rows = |p: &Papers| p.table("uses").unwrap().rows.len();
    assert!(rows(&few) < rows(&each), "{} {}", rows(&few), rows(&each));
    assert!(few.table("uses").unwrap().says[0].contains("too many for one sheet"));
    for name in ["summary", "months", "by-material", "by-lot", "by-substance"] {
        assert_eq!(
            few.table(name).unwrap().json(),
            each.table(name).unwrap().json()
        );
    }
    let book = Book::read(workbook::workbook(&few, Paper::A4).unwrap());
    assert!(holds_itself(&book) > 200);
    // The same question gives the same bytes.
    let bytes = |p: &Papers| workbook::workbook(p, Paper::A4).unwrap();
    assert_eq!(bytes(&each), bytes(&made(&world, 10_000)));
}

fn signed() -> World {
    let world = audited();
    world
        .at("2026-04-01 09:00")
        .person("SL")
        .run("month close 2026-03")
        .good();
    world
}

#[test]
fn a_signed_month_tells_its_signature_and_what_differs_since() {
    let world = signed();
    let json = |world: &World| -> Value {
        let _ = std::fs::remove_file(world.home().join("p.html"));
        let said = world.now().run("month 2026-03 --page p.html --json");
        serde_json::from_str(&said.out).unwrap()
    };
    let before = json(&world);
    assert_eq!(table(&before, "signatures")[0]["signed_by"], "SL");
    assert_eq!(table(&before, "changes").len(), 0);
    world
        .at("2026-04-02 08:00")
        .run("coat --rack R12 --mix 1 --amount 144mL --ended '2026-03-09 10:00' --include all --reason later")
        .good();
    let after = json(&world);
    let changes = table(&after, "changes");
    assert!(!changes.is_empty());
    for c in changes {
        let of = |name: &str| c[name].as_i64().unwrap();
        assert_eq!(of("difference"), of("is") - of("was"));
    }
    let page = std::fs::read_to_string(world.home().join("p.html")).unwrap();
    holds(&page, &["REVISION 2 IS NOT SIGNED", "toluene"]);
}

fn all_files(folder: &Path, below: &str, out: &mut Vec<String>) {
    for name in files(folder) {
        let path = folder.join(&name);
        if path.is_dir() {
            all_files(&path, &format!("{below}{name}/"), out);
        } else {
            out.push(format!("{below}{name}"));
        }
    }
}

#[test]
fn the_folder_of_an_inspection_holds_all_of_it_with_its_hashes() {
    let world = signed();
    let signed_page = world.now().run("month 2026-03").good().out;
    let made = world
        .now()
        .json("inspection --from 2026-02 --to 2026-03 seen");
    let folder = world.home().join("seen");
    let text = |name: &str| std::fs::read_to_string(folder.join(name)).unwrap();
    let manifest: Value = serde_json::from_str(&text("manifest.json")).unwrap();
    assert_eq!(manifest["files"], made["files"]);
    assert_eq!(manifest["demo"], true);
    let mut there = Vec::new();
    all_files(&folder, "", &mut there);
    there.retain(|name| name != "manifest.json");
    there.sort();
    let listed: Vec<&str> = manifest["files"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| f["name"].as_str().unwrap())
        .collect();
    assert_eq!(there, listed);
    for f in manifest["files"].as_array().unwrap() {
        let bytes = std::fs::read(folder.join(f["name"].as_str().unwrap())).unwrap();
        assert_eq!(sha256_hex(&bytes), f["sha256"].as_str().unwrap(), "{f}");
        assert_eq!(
            bytes.len(),
            usize::try_from(f["bytes"].as_u64().unwrap()).unwrap()
        );
    }
    // The signed page is the one that the program prints, to the letter.
    let month = "months/2026-03/2026-03";
    assert_eq!(
        format!("DEMO\n{}\n", text(&format!("{month}-signed-1.txt"))),
        signed_page
    );
    let json: Value = serde_json::from_str(&text(&format!("{month}-signed-1.json"))).unwrap();
    assert_eq!(json["signed"]["by"], "SL");
    assert!(!there.iter().any(|name| name.contains("2026-02-signed")));
    let book = Book::read(std::fs::read(folder.join(format!("{month}.xlsx"))).unwrap());
    holds_itself(&book);
    // Each adopted text, found by the list.
    let tie = text("data-sheets.csv");
    let tie = tie.lines().find(|l| l.starts_with("TIE")).unwrap();
    assert!(text(tie.rsplit(',').next().unwrap()).contains("=HYPERLINK"));
    assert_eq!(text("recipes.csv").lines().count(), 4);
    holds(&text("deviations.csv"), &["B-0202"]);
    holds(&text("limits.csv"), &["'=cell(A1) of the permit", "180kg"]);
    assert_eq!(text("limits-entered.csv").lines().count(), 4);
    assert_eq!(
        text("cautions.md"),
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("SAFETY.md")).unwrap()
    );
    holds(
        &text("README.txt"),
        &[
            "DEMO",
            "manifest.json",
            made["head"].as_str().unwrap(),
            "This log does not.",
        ],
    );
    // The record in it is the whole one.
    let read = run(
        world.home(),
        &split("import seen/record --ledger again.ledger --json"),
    )
    .json();
    assert_eq!(read["head"], made["head"]);
}

#[test]
fn an_inspection_takes_nobodys_place_and_leaves_nothing_half_done() {
    let world = signed();
    std::fs::create_dir(world.home().join("seen")).unwrap();
    let before = files(world.home());
    for (words, said) in [
        ("--from 2026-03 seen", "seen exists already"),
        (
            "--from 2026-03 --to 2026-02 new",
            "2026-03 comes after 2026-02",
        ),
        ("--from 2027-01 new", "2027-01 has not begun"),
        ("--from 2026-3 new", "month \"2026-3\""),
        (
            "--from 2026-03 nowhere/new",
            "nowhere/new cannot be written",
        ),
    ] {
        let answer = world.now().run(&format!("inspection {words}"));
        holds(&answer.refused(2), &[said]);
        assert_eq!(files(world.home()), before, "{words}");
    }
    assert_eq!(files(&world.home().join("seen")).len(), 0);
    // What is found only after the months are written leaves nothing either.
    world.tamper("UPDATE entry SET branch = 1 WHERE seq = 12");
    let said = world.now().run("inspection --from 2026-03 new").refused(3);
    holds(&said, &["entry 12"]);
    assert_eq!(files(world.home()), before);
}
