//! Printed tags: a sheet of Code 128 bars (ISO/IEC 15417) with a square QR code (ISO/IEC 18004) beside each, for any printer.
//!
//! *Invariants*: bars and square say the same text, which stands in letters below them; a text that bars cannot hold, or
//! only too fine for a printer, has its square alone, and says so. Text from the record is escaped.
//!
//! *Not here*: which tags are wanted (`commands`), what a scanned control does (`screens`).

use crate::shop::text::shown;
use barcoders::sym::code128::Code128;
use qrcode::{Color, EcLevel, QrCode};
use std::fmt::Write as _;

/// One tag.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    /// What a scanner reads.
    pub code: String,
    /// The large line for people.
    pub head: String,
    /// The small line below it.
    pub under: String,
}

/// Paper that a sheet is laid out for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// ISO 216 A4, 210 x 297 mm.
    A4,
    /// US letter, 8.5 x 11 in.
    Letter,
}

impl Paper {
    // Width and height in hundredths of a millimetre.
    const fn size(self) -> (usize, usize) {
        match self {
            Self::A4 => (21_000, 29_700),
            Self::Letter => (21_590, 27_940),
        }
    }

    const fn word(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::Letter => "letter",
        }
    }
}

// Hundredths of a millimetre. A bar of 0.33 mm is read at arm's length from a worn print; below 0.25 mm an office printer
// smears the narrow ones together (common practice, no source).
const MARGIN: usize = 1_000;
const CELL: (usize, usize) = (9_500, 3_400);
const BAR: usize = 33;
const FINEST_BAR: usize = 25;
const BARS_WIDE: usize = 6_400;
const BARS_HIGH: usize = 1_300;
const SQUARE: usize = 2_400;

/// Modules that stay white on each side of the bars, and of the square (ISO/IEC 15417 and 18004, from memory, to be
/// confirmed).
const QUIET_BARS: usize = 10;
const QUIET_SQUARE: usize = 4;

/// The bars of a text from left to right, `true` for black, without the white beside them; `None` where Code 128 cannot
/// hold it in its set B: printable ASCII.
pub fn bars(text: &str) -> Option<Vec<bool>> {
    if text.is_empty() || !text.chars().all(|c| (' '..='~').contains(&c)) {
        return None;
    }
    let code = Code128::new(format!("\u{0181}{text}")).ok()?;
    Some(code.encode().into_iter().map(|bar| bar == 1).collect())
}

/// The square of a text row by row, `true` for black, without the white around it; with error correction of level M, which
/// reads on with up to 15 % of it spoilt (ISO/IEC 18004, from memory, to be confirmed).
///
/// # Errors
///
/// A text of more than some 2,300 bytes, which no square holds.
pub fn square(text: &str) -> Result<Vec<Vec<bool>>, String> {
    let code = QrCode::with_error_correction_level(text.as_bytes(), EcLevel::M)
        .map_err(|e| format!("\"{}\" does not fit into a square code: {e}", shown(text)))?;
    Ok(code
        .to_colors()
        .chunks(code.width())
        .map(|row| row.iter().map(|c| *c == Color::Dark).collect())
        .collect())
}

/// Text as it may stand in XML, unruly characters as marks.
pub fn xml(text: &str) -> String {
    let mut out = String::new();
    for c in shown(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c => out.push(c),
        }
    }
    out
}

// Black modules of a row as runs: where each begins and how long it is.
fn runs(row: &[bool]) -> Vec<(usize, usize)> {
    let mut out: Vec<(usize, usize)> = Vec::new();
    for (at, _) in row.iter().enumerate().filter(|(_, black)| **black) {
        match out.last_mut() {
            Some((from, long)) if *from + *long == at => *long += 1,
            _ => out.push((at, 1)),
        }
    }
    out
}

fn draw(label: &Label, (left, top): (usize, usize), out: &mut String) -> Result<(), String> {
    let text = |out: &mut String, (x, y): (usize, usize), size: usize, weight: u16, words: &str| {
        let _ = writeln!(
            out,
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" font-weight=\"{weight}\">{}</text>",
            xml(words)
        );
    };
    text(out, (left, top + 480), 480, 700, &label.head);
    text(out, (left, top + 820), 270, 400, &label.under);
    let bars = bars(&label.code);
    let wide = bars.as_ref().map(|b| b.len() + 2 * QUIET_BARS);
    let bar = wide
        .map(|modules| BAR.min(BARS_WIDE / modules))
        .filter(|bar| *bar >= FINEST_BAR);
    let (y, below) = (top + 960, top + 960 + BARS_HIGH + 330);
    if let (Some(bars), Some(bar)) = (bars, bar) {
        let mut path = String::new();
        for (from, long) in runs(&bars) {
            let x = left + (QUIET_BARS + from) * bar;
            let _ = write!(path, "M{x} {y}h{}v{BARS_HIGH}h-{0}z", long * bar);
        }
        let _ = writeln!(out, "<path d=\"{path}\"/>");
        text(out, (left + QUIET_BARS * bar, below), 300, 400, &label.code);
    } else {
        text(out, (left, below), 300, 400, &label.code);
        text(out, (left, y + 300), 260, 400, "square code only");
    }
    let rows = square(&label.code)?;
    let module = SQUARE / (rows.len() + 2 * QUIET_SQUARE);
    let x0 = left + BARS_WIDE + 200 + QUIET_SQUARE * module;
    let y0 = top + 300 + QUIET_SQUARE * module;
    let mut path = String::new();
    for (n, row) in rows.iter().enumerate() {
        for (from, long) in runs(row) {
            let (x, y) = (x0 + from * module, y0 + n * module);
            let _ = write!(path, "M{x} {y}h{}v{module}h-{0}z", long * module);
        }
    }
    let _ = writeln!(out, "<path d=\"{path}\"/>");
    Ok(())
}

fn mm(hundredths: usize) -> String {
    format!("{}.{:02}", hundredths / 100, hundredths % 100)
}

// How many tags stand side by side and below each other on a sheet.
const fn grid(paper: Paper) -> (usize, usize) {
    let (width, height) = paper.size();
    (
        (width - 2 * MARGIN) / CELL.0,
        (height - 2 * MARGIN) / CELL.1,
    )
}

/// How many tags one sheet holds.
pub const fn per_sheet(paper: Paper) -> usize {
    let (across, down) = grid(paper);
    across * down
}

/// One sheet as SVG, true to size.
///
/// # Errors
///
/// More tags than the sheet holds; a text that no code holds.
pub fn sheet(labels: &[Label], paper: Paper) -> Result<String, String> {
    if labels.len() > per_sheet(paper) {
        return Err(format!(
            "{} tags do not fit on one sheet of {}; write a page that ends in .html, it has as many sheets as they need",
            labels.len(),
            per_sheet(paper)
        ));
    }
    let (width, height) = paper.size();
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}mm\" height=\"{}mm\" viewBox=\"0 0 {width} {height}\" \
         font-family=\"sans-serif\" fill=\"#000\" shape-rendering=\"crispEdges\">\n\
         <rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>\n",
        mm(width),
        mm(height),
    );
    let (across, _) = grid(paper);
    for (n, label) in labels.iter().enumerate() {
        let place = (MARGIN + n % across * CELL.0, MARGIN + n / across * CELL.1);
        draw(label, place, &mut out)?;
    }
    out.push_str("</svg>\n");
    Ok(out)
}

/// All tags as one page that prints on as many sheets as they need.
///
/// # Errors
///
/// A text that no code holds.
pub fn page(labels: &[Label], paper: Paper, title: &str) -> Result<String, String> {
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<title>{}</title>\n<style>\n\
         @page {{ size: {}; margin: 0 }}\nbody {{ margin: 0 }}\nsvg {{ display: block; break-after: page }}\n\
         </style>\n</head>\n<body>\n",
        xml(title),
        paper.word()
    );
    for labels in labels.chunks(per_sheet(paper)) {
        out.push_str(&sheet(labels, paper)?);
    }
    out.push_str("</body>\n</html>\n");
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    // Values of the symbols of set B between start and check, from the widths of bars and gaps: each symbol is eleven
    // modules wide (the patterns of start B, the digits and the stop are from memory, to be confirmed; a real reader
    // reads the sheet in `.ci/run`).
    fn symbols(bars: &[bool]) -> Vec<String> {
        let body = bars.len() - 13;
        bars[..body]
            .chunks(11)
            .map(|s| s.iter().map(|b| if *b { '1' } else { '0' }).collect())
            .collect()
    }

    #[test]
    fn bars_are_start_b_the_text_a_check_and_the_stop() {
        let bars = bars("12").unwrap();
        let read = symbols(&bars);
        assert_eq!(read.len(), 4);
        assert_eq!(read[0], "11010010000", "start B");
        assert_eq!(read[1], "10011100110", "digit 1");
        assert_eq!(read[2], "11001110010", "digit 2");
        let stop: String = bars[44..]
            .iter()
            .map(|b| if *b { '1' } else { '0' })
            .collect();
        assert_eq!(stop, "1100011101011", "stop");
    }

    #[test]
    fn what_bars_cannot_hold_has_its_square_alone() {
        assert_eq!(bars("Füller"), None);
        assert_eq!(bars(""), None);
        assert_eq!(bars("A\u{7}B"), None);
        let label = |code: &str| Label {
            code: code.to_owned(),
            head: "h".to_owned(),
            under: "u".to_owned(),
        };
        let umlaut = sheet(&[label("Füller")], Paper::A4).unwrap();
        assert!(umlaut.contains("square code only"), "{umlaut}");
        let long = sheet(&[label(&"X".repeat(30))], Paper::A4).unwrap();
        assert!(long.contains("square code only"));
        let usual = sheet(&[label("B-0411")], Paper::A4).unwrap();
        assert!(!usual.contains("square code only"));
    }

    #[test]
    fn a_sheet_says_when_it_is_full_and_a_page_has_as_many_as_it_needs() {
        let labels: Vec<Label> = (0..=per_sheet(Paper::A4))
            .map(|n| Label {
                code: format!("B-{n:04}"),
                head: format!("<b>&\"{n}"),
                under: String::new(),
            })
            .collect();
        assert!(sheet(&labels, Paper::A4).unwrap_err().contains(".html"));
        let page = page(&labels, Paper::A4, "Tags").unwrap();
        assert_eq!(page.matches("<svg").count(), 2);
        assert!(page.contains("&lt;b&gt;&amp;&quot;0"));
        assert!(!page.contains("<b>"));
    }
}
