//! Blank forms to print for a power cut: what the room writes on paper until the ledger can be reached again, and for each
//! rack what was next on every hook as of the print, so that the room can go on.
//!
//! *Invariants*: every line to write on has a number that stands once in a set, so that keying it in can name it (the
//! columns bear the names that `feeds::form_csv` reads). A rack sheet says as of when it tells; nothing on it says that a
//! piece may be worked on. One set fills whole sheets of A4 and of US letter alike, and needs no file besides itself.
//!
//! *Not here*: keying in (`feeds::form_csv`), the printer.

use super::tags::xml;
use crate::ledger::Seen;
use crate::shop::calendar::Calendar;
use crate::shop::text::shown;
use crate::shop::words::{Defect, Outlook, Reason, Word};
use crate::units::Moment;

/// What the forms are made of.
#[derive(Debug)]
pub struct Forms<'a> {
    /// The shop.
    pub shop: &'a str,
    /// Whether it is a demo.
    pub demo: bool,
    /// When they are printed; their number follows from it.
    pub at: Moment,
    /// Racks, each with its pieces in hook order.
    pub racks: Vec<(String, Vec<&'a Seen>)>,
    /// Why the clock is not believed, where it is not.
    pub doubted: Option<&'a str>,
}

// A table to write into: what is keyed in of it, its columns with their share of the width, and how many lines a sheet has.
struct Sheet {
    title: &'static str,
    deed: &'static str,
    columns: &'static [(&'static str, u32)],
    lines: u32,
    hint: &'static str,
}

// Lines of some 9 mm: they are written on with gloves (common practice, no source). A sheet of A4 on
// its side, which is the lower one, holds them with its head and foot.
const SHEETS: &[Sheet] = &[
    Sheet {
        title: "Booth log",
        deed: "coat / sanding",
        columns: &[
            ("deed", 9),
            ("rack", 7),
            ("hooks", 7),
            ("pieces", 13),
            ("step", 10),
            ("mix", 8),
            ("amount", 9),
            ("grit", 7),
            ("date", 9),
            ("began", 8),
            ("ended", 8),
            ("by", 6),
            ("air", 7),
            ("humidity", 8),
            ("note", 16),
        ],
        lines: 15,
        hint: "A whole rack: write the rack and leave hooks and pieces empty. Mix: its number, or the line of the mix sheet as \"line 16\".",
    },
    Sheet {
        title: "Mix sheet",
        deed: "mix",
        columns: &[
            ("name", 14),
            ("parts", 40),
            ("tops up", 9),
            ("left", 9),
            ("date", 9),
            ("ended", 8),
            ("by", 6),
            ("note", 16),
        ],
        lines: 15,
        hint: "Parts: each lot with its volume, such as \"L-221=1.50L T-305=0.50L\".",
    },
    Sheet {
        title: "Booth check",
        deed: "booth check",
        columns: &[
            ("booth", 14),
            ("gauge", 10),
            ("date", 9),
            ("ended", 8),
            ("by", 6),
            ("note", 40),
        ],
        lines: 15,
        hint: "After the exhaust stopped, no exhaust state is known: a booth check is due before the next spray.",
    },
    Sheet {
        title: "Defect slip",
        deed: "defect",
        columns: &[
            ("pieces", 14),
            ("defect", 14),
            ("place", 18),
            ("size", 8),
            ("date", 9),
            ("ended", 8),
            ("by", 6),
            ("note", 24),
        ],
        lines: 15,
        hint: "",
    },
];

const STYLE: &str = "@page { margin: 10mm; size: landscape }\n\
 body { margin: 0; font: 9pt sans-serif; color: #000 }\n\
 section { break-after: page } section:last-child { break-after: auto }\n\
 h1 { font-size: 14pt; margin: 0 0 1mm } p { margin: 0 0 1mm }\n\
 table { border-collapse: collapse; width: 100%; table-layout: fixed }\n\
 th, td { border: 0.3mm solid #000; padding: 0 1mm; text-align: left; overflow: hidden; vertical-align: bottom }\n\
 th { font-size: 8pt; height: 6mm } td.n { font-weight: 700; text-align: right }\n\
 .blank td { height: 9mm } .told td { height: 6mm; font-size: 8pt; vertical-align: middle; overflow-wrap: anywhere }\n\
 .told td.w { height: 7mm } thead { display: table-header-group } tr { break-inside: avoid }\n";

/// The number of a set that is printed at a moment: `F260312-0944`.
pub fn number(at: Moment, calendar: &Calendar) -> String {
    calendar.local(at).format("F%y%m%d-%H%M").to_string()
}

/// How many sheets of blank lines and of racks a set has, and the number of its last line.
pub fn count(forms: &Forms<'_>) -> (usize, u32) {
    let blank: u32 = SHEETS.iter().map(|s| s.lines).sum();
    let hooks: usize = forms.racks.iter().map(|(_, on)| on.len()).sum();
    let last = blank + u32::try_from(hooks).unwrap_or(u32::MAX - blank);
    (SHEETS.len() + forms.racks.len(), last)
}

/// The set as one page that prints on as many sheets as it needs.
pub fn page(forms: &Forms<'_>, calendar: &Calendar) -> String {
    let number = number(forms.at, calendar);
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<title>Forms {number}, {}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n",
        xml(forms.shop)
    );
    let mut line = 0_u32;
    for sheet in SHEETS {
        head(&mut out, forms, &number, sheet.title, calendar);
        out.push_str(&format!(
            "<p>Deed to key in: <b>{}</b>. Times with their date. {}</p>\n",
            sheet.deed,
            xml(sheet.hint)
        ));
        table(&mut out, "blank", sheet.columns);
        for _ in 0..sheet.lines {
            line += 1;
            row(&mut out, line, sheet.columns.iter().map(|_| String::new()));
        }
        out.push_str("</tbody></table>\n");
        if sheet.deed == "defect" {
            let words: Vec<&str> = Defect::ALL.iter().map(|d| d.word()).collect();
            out.push_str(&format!("<p>Defects: {}</p>\n", xml(&words.join(", "))));
        }
        foot(&mut out);
    }
    for (rack, on) in &forms.racks {
        head(
            &mut out,
            forms,
            &number,
            &format!("Rack {}", shown(rack)),
            calendar,
        );
        out.push_str(&format!(
            "<p>What was next on each hook as of {}; recipe times, check by hand. Write below what was done since.</p>\n",
            xml(&calendar.full(forms.at))
        ));
        if let Some(doubted) = forms.doubted {
            out.push_str(&format!("<p><b>{}</b></p>\n", xml(doubted)));
        }
        let columns = [
            ("hook", 5),
            ("piece", 10),
            ("next", 16),
            ("from", 16),
            ("stands in the way", 22),
            ("deed", 10),
            ("date", 8),
            ("began", 7),
            ("ended", 7),
            ("by", 5),
            ("note", 14),
        ];
        table(&mut out, "told", &columns);
        for seen in on {
            line += 1;
            row(&mut out, line, told(seen, forms.at, calendar));
        }
        out.push_str("</tbody></table>\n");
        foot(&mut out);
    }
    out.push_str("</body>\n</html>\n");
    out
}

fn head(out: &mut String, forms: &Forms<'_>, number: &str, title: &str, calendar: &Calendar) {
    out.push_str(&format!(
        "<section>\n<h1>{}{}</h1>\n<p>Form <b>{number}</b> of {}, printed {}</p>\n",
        if forms.demo { "DEMO " } else { "" },
        xml(title),
        xml(forms.shop),
        xml(&calendar.full(forms.at))
    ));
}

fn foot(out: &mut String) {
    let reason = Reason::Equipment;
    out.push_str(&format!(
        "<p>Key in afterwards: hangtime key-in FILE.csv, with the columns form and line and those above. Written late, reason {} {}.</p>\n</section>\n",
        reason.digit(),
        reason.word()
    ));
}

fn table(out: &mut String, class: &str, columns: &[(&str, u32)]) {
    let all: u32 = columns.iter().map(|(_, wide)| wide).sum::<u32>() + 4;
    let share = |wide: u32| f64::from(wide) * 100.0 / f64::from(all);
    out.push_str(&format!(
        "<table class=\"{class}\"><thead><tr><th style=\"width:{:.1}%\">line</th>",
        share(4)
    ));
    for (name, wide) in columns {
        out.push_str(&format!(
            "<th style=\"width:{:.1}%\">{}</th>",
            share(*wide),
            xml(name)
        ));
    }
    out.push_str("</tr></thead><tbody>\n");
}

fn row(out: &mut String, line: u32, cells: impl IntoIterator<Item = String>) {
    out.push_str(&format!("<tr><td class=\"n\">{line}</td>"));
    for cell in cells {
        out.push_str(&format!("<td>{}</td>", xml(&cell)));
    }
    out.push_str("</tr>\n");
}

// What is known of a piece, then room to write. A piece that waits has its moment; a held one has none.
fn told(seen: &Seen, at: Moment, calendar: &Calendar) -> [String; 11] {
    let view = &seen.view;
    let from = match (view.outlook, view.ready_at) {
        (Outlook::Ready, _) => "time reached".to_owned(),
        (Outlook::Waiting, Some(from)) => {
            let rests = if view.provisional { ", a forecast" } else { "" };
            format!("{}{rests}", calendar.near(from, at))
        }
        (outlook, _) => outlook.word().to_owned(),
    };
    let why = view.reasons.first().map_or("", |o| o.before.as_str());
    let hook = seen.now.place().and_then(|p| p.hook);
    let empty = String::new;
    [
        hook.map_or_else(empty, |h| h.to_string()),
        seen.now.piece.serial.clone(),
        view.next_on(),
        from,
        why.to_owned(),
        empty(),
        empty(),
        empty(),
        empty(),
        empty(),
        empty(),
    ]
}
