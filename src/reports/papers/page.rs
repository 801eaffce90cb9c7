//! A paper as a page to print: figures against limits with their sources, two charts, materials and substances.
//!
//! *Invariants*: one file that needs nothing else: no script, nothing fetched. Text from the record is escaped. Charts
//! read without colour, and every figure in them stands in letters, too. A month that lies before the record is drawn as
//! unknown, not as nothing.
//!
//! *Not here*: the figures (`book`), printing.

use super::{MonthLine, Papers};
use crate::ledger::CeilingRow;
use crate::reports::book::{self, Of, exact};
use crate::reports::tags::{Paper, xml};
use crate::reports::{months, sums};
use crate::shop::calendar::Calendar;
use crate::shop::cautions::STANDING_LINE;
use crate::shop::material::Counted;
use crate::units::{Amount, Mass, System, Volume};
use std::fmt::Write as _;

const STYLE: &str = "body { font: 8.2pt/1.2 sans-serif; margin: 0; color: #000; background: #fff }
h1 { font-size: 13pt; margin: 0 0 1mm } h2 { font-size: 9.5pt; margin: 2mm 0 0.6mm } p { margin: 0.6mm 0 }
table { border-collapse: collapse; width: 100% } tr { break-inside: avoid }
th { text-align: left; border-bottom: 0.3mm solid #000; vertical-align: bottom }
th, td { padding: 0.12mm 2mm 0.12mm 0 } td { vertical-align: top; border-bottom: 0.1mm solid #999 }
.n { text-align: right; white-space: nowrap } .all td { border-top: 0.3mm solid #000; font-weight: bold }
.demo { border: 0.4mm solid #000; padding: 0 2mm; font-weight: bold } .small { font-size: 7pt; overflow-wrap: anywhere }
.charts { display: flex; gap: 5mm } .charts figure { margin: 0; flex: 1 } svg { width: 100%; height: auto; display: block }
.who { border-top: 0.3mm solid #000; margin-top: 1.5mm; padding-top: 1mm; font-weight: bold }
@media screen { body { max-width: 190mm; margin: 8mm auto } }
";

/// The page as HTML.
pub fn page(papers: &Papers, calendar: &Calendar, system: System, paper: Paper) -> String {
    let [_, made, head, _] = papers.head.lines("Solvent");
    let title = papers.head.title("Solvent");
    let size = match paper {
        Paper::A4 => "A4",
        Paper::Letter => "letter",
    };
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<title>{}</title>\n<style>\n\
         @page {{ size: {size}; margin: 10mm 12mm }}\n{STYLE}</style>\n</head>\n<body>\n",
        xml(&title)
    );
    let demo = if papers.head.demo {
        " <span class=\"demo\">DEMO</span>"
    } else {
        ""
    };
    let _ = writeln!(out, "<h1>{}{demo}</h1>", xml(&title));
    paragraph(&mut out, &made);
    if !papers.unknown.is_empty() {
        paragraph(&mut out, &papers.unknown.join("; "));
    }
    paragraph(&mut out, sums::FROM_LOG_ALONE);
    held(&mut out, papers, calendar, system);
    out.push_str("<div class=\"charts\">\n");
    month_chart(&mut out, papers, system);
    material_chart(&mut out, papers, system);
    out.push_str("</div>\n");
    if papers.months.iter().any(|m| m.before) {
        paragraph(
            &mut out,
            "? lies before the record: what was used is unknown",
        );
    }
    materials(&mut out, papers);
    substances(&mut out, papers);
    signatures(&mut out, papers, calendar, system);
    let _ = writeln!(
        out,
        "<p class=\"small\">{}; mass of a substance in a use = volume x density x share, rounded half to even once for each \
         use, lot and substance; totals are sums of those. What counts as VOC, HAP or exempt is what each data sheet states, \
         as it was adopted.<br>{}</p>",
        xml(&format!("basis of the limits: {}", book::BASIS)),
        xml(&head)
    );
    let _ = writeln!(
        out,
        "<p class=\"who\">{}</p>\n</body>\n</html>",
        xml(STANDING_LINE)
    );
    out
}

fn paragraph(out: &mut String, text: &str) {
    let _ = writeln!(out, "<p>{}</p>", xml(text));
}

// A row of cells; what is a figure stands to the right.
fn row(out: &mut String, class: &str, cells: &[(bool, String)]) {
    let _ = write!(out, "<tr{class}>");
    for (figure, text) in cells {
        let class = if *figure { " class=\"n\"" } else { "" };
        let _ = write!(out, "<td{class}>{}</td>", xml(text));
    }
    out.push_str("</tr>\n");
}

fn table(out: &mut String, title: &str, headings: &[(bool, &str)]) {
    let _ = write!(out, "<h2>{}</h2>\n<table>\n<thead><tr>", xml(title));
    for (figure, text) in headings {
        let class = if *figure { " class=\"n\"" } else { "" };
        let _ = write!(out, "<th{class}>{}</th>", xml(text));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
}

const END: &str = "</tbody>\n</table>\n";

fn held(out: &mut String, papers: &Papers, calendar: &Calendar, system: System) {
    table(
        out,
        "Figures and limits",
        &[
            (false, "figure"),
            (true, "mass"),
            (true, "exactly"),
            (false, "limit"),
            (false, "stands"),
            (false, "source of the limit, entered by, since"),
        ],
    );
    let mut before = String::new();
    for h in &papers.held {
        let f = &h.figure;
        let words = h.words();
        if words != before {
            let _ = writeln!(
                out,
                "<tr><td colspan=\"6\"><strong>{}</strong></td></tr>",
                xml(&words)
            );
            before = words;
        }
        let limit = f.limit.as_ref();
        let stands = match f.per_cent() {
            None => f.side_word().to_owned(),
            Some(share) => format!("{}: {share} %, {}", f.side_word(), f.margin_words(system)),
        };
        row(
            out,
            "",
            &[
                (false, f.of.name()),
                (true, f.mass_words(system)),
                (
                    true,
                    if f.nothing_known() {
                        String::new()
                    } else {
                        exact(f.mass)
                    },
                ),
                (false, limit.map_or_else(String::new, |l| l.typed.clone())),
                (false, stands),
                (
                    false,
                    limit.map_or_else(String::new, |l| of_limit(l, calendar)),
                ),
            ],
        );
    }
    out.push_str(END);
}

fn of_limit(l: &CeilingRow, calendar: &Calendar) -> String {
    format!(
        "{}; {}, {}",
        l.source,
        l.person,
        calendar.local(l.since).format("%-d %b %Y")
    )
}

fn materials(out: &mut String, papers: &Papers) {
    table(
        out,
        "By material",
        &[
            (false, "material"),
            (true, "volume used"),
            (true, "VOC"),
            (true, "HAP total"),
            (true, "exempt"),
        ],
    );
    let cells = |name: String, volume: i64, t: &crate::shop::material::Totals| {
        [
            (false, name),
            (true, Volume(volume).text(3)),
            (true, exact(t.voc)),
            (true, exact(t.hap)),
            (true, exact(t.exempt)),
        ]
    };
    for (material, volume, t) in &papers.sums.materials {
        row(out, "", &cells(material.clone(), volume.0, t));
    }
    let all = papers.sums.materials.iter().map(|(_, v, _)| v.0).sum();
    row(
        out,
        " class=\"all\"",
        &cells("all".to_owned(), all, &papers.sums.totals),
    );
    out.push_str(END);
}

fn counts_as(c: &Counted) -> String {
    let words = [
        (c.counts.exempt, "exempt"),
        (c.counts.water, "water"),
        (!c.counts.exempt && !c.counts.water, "VOC"),
        (c.counts.hap, "HAP"),
    ];
    let list: Vec<&str> = words.iter().filter(|w| w.0).map(|w| w.1).collect();
    list.join(", ")
}

fn substances(out: &mut String, papers: &Papers) {
    table(
        out,
        "By substance",
        &[
            (false, "material"),
            (false, "data sheet"),
            (false, "substance"),
            (false, "CAS number"),
            (true, "counted share"),
            (false, "counts as"),
            (true, "mass"),
        ],
    );
    for s in &papers.sums.substances {
        let c = &s.substance;
        let number = if c.cas == c.name { "" } else { &c.cas };
        row(
            out,
            "",
            &[
                (false, s.material.clone()),
                (false, s.sheet.clone()),
                (false, c.name.clone()),
                (false, number.to_owned()),
                (true, c.share.text(2)),
                (false, counts_as(c)),
                (true, exact(s.mass)),
            ],
        );
    }
    out.push_str(END);
}

fn signatures(out: &mut String, papers: &Papers, calendar: &Calendar, system: System) {
    for now in &papers.signed {
        let lines = months::open_revision(now, calendar, system);
        if let (Some(s), true) = (now.newest(), lines.is_empty()) {
            paragraph(
                out,
                &format!(
                    "{}: signed by {}, {}, revision {}, at action {}",
                    now.sums.month,
                    s.person,
                    calendar.full(s.at),
                    s.signed.revision,
                    s.signed.actions
                ),
            );
        }
        // The entries stand in the record; here it is said that figures differ, and by how much.
        if let Some((first, rest)) = lines.split_first() {
            let most = rest.iter().take(now.changes.len());
            let changes: Vec<String> = most
                .map(|l| l.split_whitespace().collect::<Vec<_>>().join(" "))
                .collect();
            paragraph(out, &format!("{first}. {}", changes.join("; ")));
        }
    }
}

// Hundredths of a millimetre, as the charts are drawn.
const WIDE: i64 = 9_000;
const HIGH: i64 = 3_300;
const BASE: i64 = 2_700;
const TOP: i64 = 450;

fn chart(out: &mut String, title: &str, high: i64) {
    let _ = write!(
        out,
        "<figure>\n<h2>{}</h2>\n<svg viewBox=\"0 0 {WIDE} {high}\" role=\"img\" aria-label=\"{}\" font-family=\"sans-serif\" \
         font-size=\"250\">\n",
        xml(title),
        xml(title)
    );
}

const END_CHART: &str = "</svg>\n</figure>\n";

fn text(out: &mut String, x: i64, y: i64, anchor: &str, words: &str) {
    let _ = writeln!(
        out,
        "<text x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\">{}</text>",
        xml(words)
    );
}

// A length in proportion, at least a hair where there is something.
fn part(of: i64, most: i64, length: i64) -> i64 {
    let drawn = i128::from(of) * i128::from(length) / i128::from(most.max(1));
    let drawn = i64::try_from(drawn).unwrap_or(length);
    if of > 0 { drawn.max(10) } else { 0 }
}

// The number of a mass in the unit of the chart, without the unit.
fn bare(mass: Mass, system: System) -> String {
    let words = book::mass(mass, system);
    words
        .rsplit_once(' ')
        .map_or_else(|| words.clone(), |(figure, _)| figure.to_owned())
}

fn unit(system: System) -> String {
    let words = book::mass(Mass(0), system);
    words
        .rsplit_once(' ')
        .map_or_else(String::new, |(_, unit)| unit.to_owned())
}

fn month_chart(out: &mut String, papers: &Papers, system: System) {
    let limit = papers
        .limits
        .iter()
        .find(|l| l.what == Of::Voc.key() && l.scope == book::period(false));
    let masses = papers.months.iter().map(|m| m.sums.totals.voc.0);
    let most = masses.chain(limit.map(|l| l.value)).max().unwrap_or(0);
    chart(out, &format!("VOC month by month, {}", unit(system)), HIGH);
    let count = i64::try_from(papers.months.len()).unwrap_or(1).max(1);
    let step = WIDE / count;
    for (n, m) in papers.months.iter().enumerate() {
        let x = i64::try_from(n).unwrap_or(0) * step;
        bar(out, m, (x, step), most, system);
    }
    let _ = writeln!(
        out,
        "<path d=\"M0 {BASE}H{WIDE}\" stroke=\"#000\" stroke-width=\"20\"/>"
    );
    match limit {
        Some(l) => {
            let y = BASE - part(l.value, most, BASE - TOP);
            let _ = writeln!(
                out,
                "<path d=\"M0 {y}H{WIDE}\" stroke=\"#000\" stroke-width=\"30\" stroke-dasharray=\"150 90\"/>"
            );
            text(
                out,
                0,
                y - 80,
                "start",
                &format!("limit of a month {}, entered by {}", l.typed, l.person),
            );
        }
        None => text(out, 0, 250, "start", "no limit of a month is entered"),
    }
    out.push_str(END_CHART);
}

fn bar(out: &mut String, m: &MonthLine, (x, step): (i64, i64), most: i64, system: System) {
    let mass = m.sums.totals.voc;
    let height = part(mass.0, most, BASE - TOP);
    let (left, wide, middle) = (x + step / 8, step * 3 / 4, x + step / 2);
    if height > 0 {
        // Months whose uses stand in this paper are full, the others are drawn as outlines.
        let fill = if m.inside { "#555" } else { "#fff" };
        let _ = writeln!(
            out,
            "<rect x=\"{left}\" y=\"{}\" width=\"{wide}\" height=\"{height}\" fill=\"{fill}\" stroke=\"#000\" stroke-width=\"15\"/>",
            BASE - height
        );
    }
    if m.before {
        text(out, middle, BASE - height - 330, "middle", "?");
    }
    if !m.before || mass.0 > 0 {
        text(
            out,
            middle,
            BASE - height - 60,
            "middle",
            &bare(mass, system),
        );
    }
    // The year stands below the first month and each January.
    let (year, month) = m.sums.month.split_once('-').unwrap_or(("", ""));
    text(out, middle, BASE + 280, "middle", month);
    if x == 0 || month == "01" {
        text(out, middle, BASE + 540, "middle", year);
    }
}

fn material_chart(out: &mut String, papers: &Papers, system: System) {
    let list = &papers.sums.materials;
    let most = list.iter().map(|(_, _, t)| t.voc.0).max().unwrap_or(0);
    let step = 420;
    let high = (i64::try_from(list.len()).unwrap_or(0) * step + 100).max(600);
    chart(out, &format!("VOC by material, {}", unit(system)), high);
    if list.is_empty() {
        text(
            out,
            0,
            300,
            "start",
            "no coat with a known amount is logged",
        );
    }
    for (n, (material, _, t)) in list.iter().enumerate() {
        let y = i64::try_from(n).unwrap_or(0) * step + 60;
        text(out, 0, y + 260, "start", material);
        let long = part(t.voc.0, most, WIDE - 3_000);
        let _ = writeln!(
            out,
            "<rect x=\"1500\" y=\"{y}\" width=\"{long}\" height=\"{}\" fill=\"#555\" stroke=\"#000\" stroke-width=\"15\"/>",
            step - 90
        );
        text(out, 1_580 + long, y + 260, "start", &bare(t.voc, system));
    }
    out.push_str(END_CHART);
}
