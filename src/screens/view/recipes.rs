//! Recipes and materials: the list, one of them as a person reads it, and two revisions side by side.

use super::empty;
use super::text::{Line, cells, count, fit, flow, line, put, put_line, run};
use crate::reports::sheets::{How, Part, Said, tally};
use crate::screens::model::Model;
use crate::screens::places::recipes::{Entry, Kind, Sheet};
use crate::screens::theme::{Ink, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Width from which on the marked sheet is shown beside the list.
const SIDE: u16 = 160;

/// Rows from which on the list leaves room for the marked sheet.
const ROOM: u16 = 7;

/// Width of the word and shape between two revisions.
const HOW: u16 = 10;

/// Width from which on the lots of a sheet stand in the list.
const LOTS: u16 = 112;

enum Row<'a> {
    Gap,
    Head(Kind),
    Entry(usize, &'a Entry),
}

/// Draws it.
pub(super) fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    let state = &model.places.recipes;
    if state.data.is_none() {
        let text = line("reading the ledger ...", Ink::Faint);
        put_line(buf, area, 0, &text, theme);
        return;
    }
    let rows = rows(model);
    if rows.is_empty() {
        draw_list(model, &rows, area, buf);
        return;
    }
    let side = if area.width >= SIDE {
        area.width / 2
    } else {
        0
    };
    let lines = |width: u16| -> Vec<Line> {
        let marked = state.marked();
        let lines = marked.iter().flat_map(|e| &e.lines);
        lines.flat_map(|l| said(l, width)).collect()
    };
    // Room that the list leaves is given to the marked sheet, else to a few words about it.
    let left = area.height.saturating_sub(count(rows.len()) + 1);
    let (detail, shown) = match area.height {
        _ if side > 0 => (0, lines(side.saturating_sub(2))),
        _ if left >= ROOM => (left, lines(area.width)),
        0..=12 => (1, about_lines(model, area.width)),
        _ => (3, about_lines(model, area.width)),
    };
    let list = Rect {
        width: area.width - side,
        height: area.height.saturating_sub(detail),
        ..area
    };
    draw_list(model, &rows, list, buf);
    let place = if side > 0 {
        Rect {
            x: list.right() + 2,
            width: side.saturating_sub(2),
            ..area
        }
    } else {
        Rect {
            y: list.bottom(),
            height: detail,
            ..area
        }
    };
    let below = shown.len().saturating_sub(usize::from(place.height));
    let fits = if below > 0 && place.height >= ROOM {
        place.height - 1
    } else {
        place.height
    };
    for (top, l) in shown.iter().take(usize::from(fits)).enumerate() {
        put_line(buf, place, count(top), l, theme);
    }
    if fits < place.height {
        let text = format!("{} lines below: Enter opens it", below + 1);
        put_line(buf, place, fits, &line(text, Ink::Faint), theme);
    }
}

fn about_lines(model: &Model, width: u16) -> Vec<Line> {
    let marked = model.places.recipes.marked();
    marked.map_or_else(Vec::new, |e| flow(&about(e, model), width, 2))
}

// The list with its headings.
fn rows(model: &Model) -> Vec<Row<'_>> {
    let mut rows = Vec::new();
    let mut before = None;
    for (n, entry) in model.places.recipes.listed().into_iter().enumerate() {
        if before != Some(entry.kind) {
            if before.is_some() {
                rows.push(Row::Gap);
            }
            rows.push(Row::Head(entry.kind));
            before = Some(entry.kind);
        }
        rows.push(Row::Entry(n, entry));
    }
    rows
}

fn draw_list(model: &Model, rows: &[Row<'_>], area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    let listed = model.places.recipes.listed();
    if rows.is_empty() {
        let lines = if model.places.recipes.entries().is_empty() {
            empty::lines(model)
        } else {
            vec![line("nothing holds this text; Esc drops it", Ink::Faint)]
        };
        let lines = lines.iter().flat_map(|l| flow(l, area.width, 2));
        for (top, l) in lines.enumerate() {
            put_line(buf, area, count(top), &l, theme);
        }
        return;
    }
    // The marked row stays in the middle, so that it needs no memory of its own.
    let mark = model.places.recipes.mark;
    let marked = rows
        .iter()
        .position(|r| matches!(r, Row::Entry(n, _) if *n == mark))
        .unwrap_or(0);
    let height = usize::from(area.height);
    let last = rows.len().saturating_sub(height);
    let first = marked.saturating_sub(height / 2).min(last);
    let widths = Widths::of(&listed, area.width);
    let sheets = widths.without_date(&listed, area.width);
    let of = |kind: Kind| match kind {
        Kind::Recipe => &widths,
        Kind::Material => &sheets,
    };
    for (top, row) in rows.iter().skip(first).take(height).enumerate() {
        let top = count(top);
        match row {
            Row::Gap => {}
            Row::Head(kind) => {
                let heads = match kind {
                    Kind::Recipe => ["recipe", "rev", "in process", "name", "how it dries", ""],
                    Kind::Material => [
                        "material",
                        "sheet",
                        "dated",
                        "name",
                        "hazards",
                        "lots in use",
                    ],
                };
                of(*kind).put(
                    buf,
                    area,
                    top,
                    &heads.map(|h| (h.to_owned(), Ink::Head)),
                    theme,
                );
            }
            Row::Entry(n, entry) => {
                let here = *n == model.places.recipes.mark;
                if here {
                    let place = Rect {
                        y: area.y + top,
                        height: 1,
                        ..area
                    };
                    buf.set_style(place.intersection(buf.area), theme.style(Ink::Marked));
                }
                // A code stands once above its revisions.
                let again = n.checked_sub(1).and_then(|b| listed.get(b));
                let again = again.is_some_and(|b| b.kind == entry.kind && b.code == entry.code);
                let code = if again && !here { "" } else { &entry.code };
                let third = match entry.kind {
                    Kind::Recipe => on_it(entry, model),
                    Kind::Material => entry.dated.clone().unwrap_or_default(),
                };
                let rest = match entry.kind {
                    Kind::Recipe => entry.drying.clone(),
                    Kind::Material => entry.hazards.join(", "),
                };
                let cells = [
                    (code.to_owned(), Ink::Strong),
                    (entry.revision.clone(), Ink::Strong),
                    (third, Ink::Plain),
                    (entry.name.clone(), Ink::Plain),
                    (rest, Ink::Plain),
                    (lots(entry), Ink::Plain),
                ];
                of(entry.kind).put(buf, area, top, &cells, theme);
                if here {
                    put(buf, area, 0, top, 1, (theme.mark(), Ink::Marked), theme);
                }
            }
        }
    }
}

struct Widths([u16; 5]);

impl Widths {
    fn of(listed: &[&Entry], width: u16) -> Self {
        let widest = |text: fn(&Entry) -> &str, low: u16, high: u16| {
            let most = listed.iter().map(|e| cells(text(e))).max();
            most.unwrap_or(0).clamp(low, high)
        };
        Self([
            widest(|e| &e.code, 8, 12),
            widest(|e| &e.revision, 5, 10),
            10,
            widest(|e| &e.name, 12, 34),
            // The lots have a column only where the hazards need not give way for it.
            if width >= LOTS { 34 } else { width },
        ])
    }

    // The same for the sheets: where their hazards have no room, the date gives way to them; it stands below the list.
    fn without_date(&self, listed: &[&Entry], width: u16) -> Self {
        let hazards = listed.iter().filter(|e| e.kind == Kind::Material);
        let most = hazards.map(|e| cells(&e.hazards.join(", "))).max();
        let before: u16 = self.0.iter().take(4).map(|w| w + 1).sum();
        let mut out = Self(self.0);
        if width < LOTS && before + 1 + most.unwrap_or(0) > width {
            out.0[2] = 0;
        }
        out
    }

    fn put(
        &self,
        buf: &mut Buffer,
        area: Rect,
        top: u16,
        texts: &[(String, Ink); 6],
        theme: Theme,
    ) {
        let mut left = 1;
        let widths = self.0.iter().copied().chain([area.width]);
        for ((text, ink), wide) in texts.iter().zip(widths) {
            if wide == 0 {
                continue;
            }
            let wide = wide.min(area.width.saturating_sub(left));
            // A word of which three letters are left says nothing.
            if wide < 8 && cells(text) > wide {
                break;
            }
            put(
                buf,
                area,
                left,
                top,
                wide,
                (&fit(text, wide, theme), *ink),
                theme,
            );
            left = left.saturating_add(wide).saturating_add(1);
        }
    }
}

// The lots in use of a sheet, in short.
fn lots(entry: &Entry) -> String {
    let list: Vec<&str> = entry.in_use().map(|l| l.lot.as_str()).collect();
    let ended = entry
        .in_use()
        .any(|l| l.expiry.starts_with("SHELF LIFE ENDED"));
    match (entry.kind, list.is_empty()) {
        (Kind::Recipe, _) => String::new(),
        (Kind::Material, true) => "none".to_owned(),
        (Kind::Material, false) => format!(
            "{}{}",
            list.join(", "),
            if ended { ", ONE BEYOND ITS DATE" } else { "" }
        ),
    }
}

// How many pieces in process are on a revision.
fn on_it(entry: &Entry, model: &Model) -> String {
    let on = model
        .floor
        .seen()
        .iter()
        .filter(|s| s.recipe.code == entry.code && s.recipe.revision.to_string() == entry.revision)
        .count();
    match on {
        0 => "none".to_owned(),
        1 => "1 piece".to_owned(),
        n => format!("{n} pieces"),
    }
}

// What the list has no room for, of the marked row.
fn about(entry: &Entry, model: &Model) -> Line {
    let mut out = vec![run(
        format!("{} {}: ", entry.label(), entry.name),
        Ink::Strong,
    )];
    match entry.kind {
        Kind::Recipe => {
            let other = model
                .places
                .recipes
                .revisions(entry.kind, &entry.code)
                .len()
                .saturating_sub(1);
            let film: Vec<String> = entry
                .lines
                .iter()
                .filter(|l| l.key.starts_with("film"))
                .map(|l| l.text().trim().to_owned())
                .collect();
            out.push(run(
                format!(
                    "{}, in process on it {}",
                    film.join("; "),
                    on_it(entry, model)
                ),
                Ink::Plain,
            ));
            out.push(run(
                match other {
                    0 => "; no other revision".to_owned(),
                    n => format!("; {n} other revision(s), c holds the one before against it"),
                },
                Ink::Faint,
            ));
        }
        Kind::Material => {
            let lots: Vec<String> = entry
                .in_use()
                .map(|l| format!("{} ({})", l.lot, l.expiry))
                .collect();
            let hazards = if entry.hazards.is_empty() {
                "the sheet names none".to_owned()
            } else {
                entry.hazards.join(", ")
            };
            let dated = entry.dated.as_ref();
            let dated = dated.map_or_else(String::new, |d| format!("dated {d}; "));
            out.push(run(format!("{dated}{hazards}. "), Ink::Plain));
            out.push(match lots.as_slice() {
                [] => run("No lot of this sheet in use.", Ink::Faint),
                _ => run(format!("Lots in use: {}.", lots.join(", ")), Ink::Plain),
            });
        }
    }
    out
}

/// The lines of the open sheet at a width.
pub(super) fn sheet_lines(model: &Model, sheet: &Sheet, width: u16) -> Vec<Line> {
    let state = &model.places.recipes;
    let gone = || vec![line("reading the ledger ...", Ink::Faint)];
    if sheet.against.is_some() {
        return match sheet.pairs(state) {
            Some((before, after, pairs)) => {
                let mut out = side_heads(before, after, width);
                out.push(line(
                    format!(
                        "{}{}",
                        tally(&pairs),
                        if sheet.differing {
                            " (what says the same is left out)"
                        } else {
                            ""
                        }
                    ),
                    Ink::Faint,
                ));
                if pairs.is_empty() {
                    out.push(line("they say the same in every line", Ink::Plain));
                }
                for pair in &pairs {
                    out.extend(side_by_side(
                        pair.how,
                        (pair.before.as_ref(), pair.after.as_ref()),
                        width,
                        model.shop.theme,
                    ));
                }
                out
            }
            None => gone(),
        };
    }
    let Some(entry) = state.find_entry(sheet.kind, &sheet.code, &sheet.revision) else {
        return gone();
    };
    let mut out: Vec<Line> = Vec::new();
    for l in &entry.lines {
        // What was noted stands apart from the figures.
        if l.part == Part::Remark {
            out.push(Vec::new());
        }
        out.extend(said(l, width));
        if l.part == Part::Title && entry.kind == Kind::Recipe {
            out.push(line(
                format!("  in process on it: {}", on_it(entry, model)),
                Ink::Plain,
            ));
        }
    }
    out
}

// A line of a sheet; its details go on below its first detail.
fn said(l: &Said, width: u16) -> Vec<Line> {
    let (lead, rest) = match l.part {
        Part::Title => (Ink::Strong, Ink::Strong),
        Part::Head => (Ink::Head, Ink::Head),
        Part::Item => (Ink::Strong, Ink::Plain),
        Part::Fact => (Ink::Plain, Ink::Plain),
        Part::Remark => (Ink::Faint, Ink::Faint),
    };
    let mut runs = vec![run(l.lead.clone(), lead)];
    runs.extend(details(l, |_| rest, |_| ""));
    let inset = match l.part {
        // Steps and substances stand in columns.
        Part::Item => cells(&l.lead).min(width / 2),
        _ => 4,
    };
    flow(&runs, width, inset)
}

fn details(l: &Said, ink: impl Fn(&str) -> Ink, mark: impl Fn(&str) -> &'static str) -> Line {
    let last = l.details.len().saturating_sub(1);
    l.details
        .iter()
        .enumerate()
        .flat_map(|(n, d)| {
            // What is doubted is seen as such.
            let ink = if d.starts_with('(') && d.contains(": ") && ink(d) == Ink::Plain {
                Ink::Late
            } else {
                ink(d)
            };
            // The comma stands with its word, so that no line begins with one.
            let comma = if n < last { "," } else { "" };
            let blank = if n < last { " " } else { "" };
            let mark = mark(d);
            [
                run(format!("{mark}{d}{comma}"), ink),
                run(blank, Ink::Plain),
            ]
        })
        .collect()
}

fn column(width: u16) -> u16 {
    width.saturating_sub(HOW) / 2
}

fn side_heads(before: &Entry, after: &Entry, width: u16) -> Vec<Line> {
    let wide = usize::from(column(width));
    vec![vec![
        run(format!("{:<wide$}", before.label()), Ink::Strong),
        run(" ".repeat(usize::from(HOW)), Ink::Plain),
        run(after.label(), Ink::Strong),
    ]]
}

const fn shape(how: How, theme: Theme) -> &'static str {
    match (how, theme.shapes) {
        (How::Same, _) => " ",
        (How::Changed, true) => "≠",
        (How::Changed, false) => "!",
        (How::New, _) => "+",
        (How::Gone, _) => "-",
        (How::Moved, true) => "↕",
        (How::Moved, false) => "^",
    }
}

// One line of both revisions: the earlier one on the left, how they stand to each other, the later one on the right.
fn side_by_side(
    how: How,
    (before, after): (Option<&Said>, Option<&Said>),
    width: u16,
    theme: Theme,
) -> Vec<Line> {
    let wide = column(width);
    let half = |own: Option<&Said>, other: Option<&Said>| -> Vec<Line> {
        let Some(own) = own else { return Vec::new() };
        // Columns have no room for blanks: name and kind by single ones.
        let lead: Vec<&str> = own.lead.split_whitespace().collect();
        let ink = match how {
            How::Same => Ink::Faint,
            How::New | How::Gone => Ink::Strong,
            How::Changed | How::Moved => Ink::Plain,
        };
        let mut runs = vec![run(format!("{} ", lead.join(" ")), ink)];
        if own.part == Part::Title {
            runs.clear();
        }
        let known = |d: &str| other.is_some_and(|o| o.details.iter().any(|x| x == d));
        let ink = |d: &str| match how {
            How::Same => Ink::Faint,
            How::New | How::Gone => Ink::Strong,
            _ if known(d) => Ink::Plain,
            _ => Ink::Against,
        };
        // Within a line that changed, what differs has the shape beside the colour.
        let mark = |d: &str| match how {
            How::Changed | How::Moved if !known(d) && theme.shapes => "≠\u{a0}",
            How::Changed | How::Moved if !known(d) => "! ",
            _ => "",
        };
        runs.extend(details(own, ink, mark));
        flow(&runs, wide.saturating_sub(1), 2)
    };
    let (left, right) = (half(before, after), half(after, before));
    let rows = left.len().max(right.len());
    (0..rows)
        .map(|n| {
            let mut out = left.get(n).cloned().unwrap_or_default();
            let used = super::text::line_cells(&out);
            let word = match (how, n) {
                (How::Same, _) => String::new(),
                (_, 0) => format!("{} {}", shape(how, theme), how.word()),
                _ => shape(how, theme).to_owned(),
            };
            let gap = wide.saturating_sub(used);
            out.push(run(" ".repeat(usize::from(gap)), Ink::Plain));
            let room = usize::from(HOW);
            out.push(run(format!("{word:<room$}"), Ink::Late));
            out.extend(right.get(n).cloned().unwrap_or_default());
            out
        })
        .collect()
}
