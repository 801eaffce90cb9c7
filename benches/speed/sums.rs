//! P5, P7, P13: the board, the rolling twelve months, the month's report.

use crate::Ground;
use crate::table::{Line, Times, in_turn, shown, timed};
use hangtime::ledger::{Ledger, Months};
use rusqlite::{Connection, OpenFlags};
use std::collections::BTreeMap;
use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};

fn reader(path: &Path) -> Connection {
    Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap()
}

// Pieces in process with their newest entry and their coats, as one would ask the record itself.
const NAIVE: &str = "SELECT piece, max(began), sum(kind LIKE 'coat/%') FROM entry WHERE piece IS NOT NULL GROUP BY piece
     HAVING sum(kind IN ('mated/1', 'scrapped/1')) = 0";

const KEPT: &str =
    "SELECT p.id, p.serial, p.newest, s.surface, s.done, s.film_nm, s.last_wet FROM piece p
     JOIN standing s ON s.piece = p.id WHERE p.in_process = 1";

fn rows(conn: &Connection, sql: &str) -> usize {
    let mut list = conn.prepare_cached(sql).unwrap();
    let mut rows = list.query([]).unwrap();
    let mut count = 0;
    while rows.next().unwrap().is_some() {
        count += 1;
    }
    count
}

pub fn board(ground: &Ground) -> Vec<Line> {
    let ledger = Ledger::open(&ground.plant.path).unwrap();
    let conn = reader(&ground.plant.path);
    let now = ground.plant.now;
    let there = ledger.floor(now, None).unwrap().len();
    assert_eq!(rows(&conn, NAIVE), there, "the same pieces");
    let (judged, naive) = in_turn(
        ground.times(7),
        |_| assert_eq!(ledger.floor(now, None).unwrap().len(), there),
        |_| assert_eq!(rows(&conn, NAIVE), there),
    );
    let naive = naive.median();
    let kept = Times::of((0..15).map(|_| timed(|| rows(&conn, KEPT)).0).collect());
    let screen = format!("{KEPT} ORDER BY p.id LIMIT 50");
    let screen = Times::of((0..99).map(|_| timed(|| rows(&conn, &screen)).0).collect());
    let against = format!("GROUP BY over the entries {}", shown(naive));
    let line = |what: String, ours: f64, goal| Line {
        id: "P5",
        what,
        ours: shown(ours),
        against: against.clone(),
        ratio: format!("{:.0}", naive / ours),
        goal,
    };
    vec![
        line(
            format!("the board of {there}: its rows"),
            kept.median(),
            ">= 1,000",
        ),
        line(
            format!("the board of {there}, judged and forecast"),
            judged.median(),
            ">= 1,000",
        ),
        line(
            "a screenful of its rows".to_owned(),
            screen.median(),
            "<= 0.1 ms",
        ),
    ]
}

// A substance of a sheet in twelve months, in mg.
type Masses = BTreeMap<(String, String), i64>;

fn ours(ledger: &Ledger, months: &Months) -> Masses {
    let mut out = Masses::new();
    for month in months.list() {
        for s in ledger.month(month).unwrap().substances {
            *out.entry((month.clone(), s.substance.cas.clone()))
                .or_default() += s.mass.0;
        }
    }
    out.retain(|_, mg| *mg != 0);
    out
}

// The composition of each lot: substance, share in ppm, density in mg/L.
fn composition(ledger: &Ledger) -> Vec<(String, String, i64, i64)> {
    let mut out = Vec::new();
    for lot in ledger.lots().unwrap() {
        let sheet = ledger.lot_material(&lot.lot).unwrap();
        for part in sheet.counted() {
            out.push((lot.lot.clone(), part.cas, part.share.0, sheet.density.0));
        }
    }
    out
}

pub fn rolling(ground: &Ground) -> Vec<Line> {
    let ledger = Ledger::open(&ground.plant.path).unwrap();
    let month = ground.plant.month(&ledger);
    let months = Months::twelve(&month).unwrap();
    let wanted = ours(&ledger, &months);
    // Asked of the record itself: each use rounded by itself, half to even, as the ledger does.
    let conn = reader(&ground.plant.path);
    conn.execute_batch("CREATE TEMP TABLE part (lot TEXT, cas TEXT, ppm INTEGER, mg_l INTEGER, PRIMARY KEY (lot, cas)) WITHOUT ROWID")
        .unwrap();
    for (lot, cas, ppm, density) in composition(&ledger) {
        conn.execute(
            "INSERT INTO part VALUES (?1, ?2, ?3, ?4)",
            rusqlite::params![lot, cas, ppm, density],
        )
        .unwrap();
    }
    let first = &months.list()[0];
    let sql = "SELECT strftime('%Y-%m', u.day * 86400, 'unixepoch') AS month, p.cas,
                      sum(CAST(round(u.volume * (p.mg_l * (p.ppm * 1e-12))) AS INTEGER))
               FROM used u JOIN part p ON p.lot = u.lot
               WHERE u.day >= unixepoch(?1 || '-01') / 86400 GROUP BY 1, 2";
    let mut found = Masses::new();
    let (taken, raw) = in_turn(
        ground.times(7),
        |_| assert_eq!(ours(&ledger, &months), wanted),
        |_| {
            let mut list = conn.prepare(sql).unwrap();
            let mut rows = list.query([first]).unwrap();
            while let Some(r) = rows.next().unwrap() {
                found.insert((r.get(0).unwrap(), r.get(1).unwrap()), r.get(2).unwrap());
            }
        },
    );
    let (mine, raw) = (taken.median(), raw.median());
    assert_eq!(
        found.keys().collect::<Vec<_>>(),
        wanted.keys().collect::<Vec<_>>()
    );
    let mut lines = vec![Line {
        id: "P7",
        what: format!("twelve months to {month}, by month and substance"),
        ours: shown(mine),
        against: format!("SQLite over the uses, rounded in floats {}", shown(raw)),
        ratio: format!("{:.0}", raw / mine),
        goal: ">= 1,000",
    }];
    lines.extend(analytic(ground, &ledger, &months, (&wanted, mine)));
    lines
}

// The same from an analytic engine over its own tables, plainly and in the best form that was found by hand.
fn analytic(
    ground: &Ground,
    ledger: &Ledger,
    months: &Months,
    (wanted, mine): (&Masses, f64),
) -> Vec<Line> {
    let there = Command::new("python3")
        .args(["-c", "import duckdb"])
        .stderr(Stdio::null())
        .status();
    if !there.is_ok_and(|s| s.success()) {
        return vec![Line {
            id: "P7",
            what: "the same against an analytic engine".to_owned(),
            ours: shown(mine),
            against: "python3 without its module is here: not measured".to_owned(),
            ratio: "-".to_owned(),
            goal: ">= 10, >= 4",
        }];
    }
    let folder = tempfile::tempdir_in(&ground.folder).unwrap();
    let conn = reader(&ground.plant.path);
    let mut uses =
        std::io::BufWriter::new(std::fs::File::create(folder.path().join("uses.csv")).unwrap());
    let mut list = conn
        .prepare("SELECT strftime('%Y-%m', day * 86400, 'unixepoch'), lot, volume FROM used")
        .unwrap();
    let mut rows = list.query([]).unwrap();
    while let Some(r) = rows.next().unwrap() {
        let (month, lot, volume): (String, String, i64) =
            (r.get(0).unwrap(), r.get(1).unwrap(), r.get(2).unwrap());
        writeln!(uses, "{month},{lot},{volume}").unwrap();
    }
    uses.flush().unwrap();
    let mut parts = String::new();
    for (lot, cas, ppm, density) in composition(ledger) {
        parts.push_str(&format!("{lot},{cas},{ppm},{density}\n"));
    }
    std::fs::write(folder.path().join("parts.csv"), parts).unwrap();
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/speed/analytic.py");
    let out = Command::new("python3")
        .arg(script)
        .arg(folder.path())
        .arg(&months.list()[0])
        .output()
        .unwrap();
    assert!(
        out.status.success(),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    let told = String::from_utf8(out.stdout).unwrap();
    let mut found = Masses::new();
    let mut times = BTreeMap::new();
    for line in told.lines() {
        match line.split('|').collect::<Vec<_>>().as_slice() {
            ["time", form, ms] => {
                times.insert((*form).to_owned(), ms.parse::<f64>().unwrap());
            }
            [month, cas, mg] => {
                found.insert(
                    ((*month).to_owned(), (*cas).to_owned()),
                    mg.parse().unwrap(),
                );
            }
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(&found, wanted, "equal to the last milligram");
    [("plain", ">= 10"), ("best", ">= 4")]
        .into_iter()
        .map(|(form, goal)| Line {
            id: "P7",
            what: "the same, equal to the last mg".to_owned(),
            ours: shown(mine),
            against: format!("DuckDB, {form} form {}", shown(times[form])),
            ratio: format!("{:.1}", times[form] / mine),
            goal,
        })
        .collect()
}

/// Rows of the sheet that a month is reckoned with by hand.
const SHEET: u32 = 50_000;

// A workbook of uses with two columns of formulas, and the sums by month and material beneath.
fn workbook(path: &Path) {
    use rust_xlsxwriter::{Formula, Workbook};
    let mut book = Workbook::new();
    let uses = book.add_worksheet().set_name("uses").unwrap();
    for row in 0..SHEET {
        uses.write(row, 0, row % 12 + 1).unwrap();
        uses.write(row, 1, format!("M{:02}", row % 42)).unwrap();
        uses.write(row, 2, f64::from(48 + row % 7)).unwrap();
        uses.write(row, 3, Formula::new(format!("C{}*0.92", row + 1)))
            .unwrap();
        uses.write(row, 4, Formula::new(format!("ROUND(D{}*0.76,3)", row + 1)))
            .unwrap();
    }
    let sums = book.add_worksheet().set_name("sums").unwrap();
    for month in 0..12_u16 {
        for material in 0..42_u32 {
            let formula = format!(
                "SUMIFS(uses!E1:E{SHEET},uses!A1:A{SHEET},{},uses!B1:B{SHEET},\"M{material:02}\")",
                month + 1
            );
            sums.write(material, month, Formula::new(formula)).unwrap();
        }
    }
    book.save(path).unwrap();
}

pub fn report(ground: &Ground) -> Vec<Line> {
    let ledger = Ledger::open(&ground.plant.path).unwrap();
    let month = ground.plant.month(&ledger);
    let months = Months::twelve(&month).unwrap();
    let uses = ground.plant.counts().2;
    let ask = || {
        let sums = ledger.month(&month).unwrap();
        let rolling = ledger.sums_of(&months).unwrap();
        assert!(sums.totals.voc.0 > 0 && rolling.totals.voc.0 >= sums.totals.voc.0);
    };
    let book = || hangtime::reports::book::book(&ledger, &month, ground.plant.now).unwrap();
    let what = |what: &str| format!("{what}, of {uses} uses");
    let folder = tempfile::tempdir_in(&ground.folder).unwrap();
    let sheet = folder.path().join("uses.xlsx");
    workbook(&sheet);
    let office = || {
        Command::new("soffice")
            .args([
                "--headless",
                "--convert-to",
                "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,2",
            ])
            .arg("--outdir")
            .arg(folder.path())
            .arg(&sheet)
            .env("HOME", folder.path())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
    };
    let line = |what: String, ours: f64, theirs: Option<f64>| Line {
        id: "P13",
        what,
        ours: shown(ours),
        against: theirs.map_or_else(
            || "no spreadsheet is here: not measured".to_owned(),
            |t| format!("LibreOffice, {SHEET} rows with SUMIFS {}", shown(t)),
        ),
        ratio: theirs.map_or_else(|| "-".to_owned(), |t| format!("{:.0}", t / ours)),
        goal: ">= 500",
    };
    // The first start makes its folders.
    let there = office().is_ok_and(|s| s.success());
    let (mut sums, mut books) = (Vec::new(), Vec::new());
    let (_, converted) = in_turn(
        ground.times(7),
        |_| {
            sums.push(timed(ask).0);
            books.push(timed(book).0);
        },
        |_| assert!(!there || office().unwrap().success()),
    );
    let theirs = there.then(|| {
        let csv = std::fs::read_dir(folder.path()).unwrap().filter(|f| {
            f.as_ref()
                .unwrap()
                .path()
                .extension()
                .is_some_and(|e| e == "csv")
        });
        assert!(csv.count() > 0, "the sheet was computed");
        converted.median()
    });
    vec![
        line(
            what("sums of the month and of twelve"),
            Times::of(sums).median(),
            theirs,
        ),
        line(
            what("the whole book of the month"),
            Times::of(books).median(),
            theirs,
        ),
    ]
}
